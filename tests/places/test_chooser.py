"""Choosing species for a block: the limit in words, invasive refused, introduced warned, unknown never a fit."""

import re
from datetime import date

import pytest
from django.urls import reverse

from projects.models import ProjectPurpose, SiteAssessment, SoilSample, StockOffer
from projects.selectors import chooser, site_facts
from projects.services import windows
from species.models import RangeStatus, Species, SpeciesTrait
from tests import factories

NORMALS = {
    "mean_minimum_c": [5, 5, 7, 8, 11, 15, 17, 17, 15, 12, 8, 6],
    "mean_maximum_c": [13, 14, 17, 19, 23, 28, 32, 32, 28, 22, 17, 14],
    "rain_mm": [90, 80, 60, 55, 35, 10, 3, 5, 25, 75, 95, 100],
}
RAIN = {
    "rain_lowest_mm": 400,
    "rain_optimum_from_mm": 600,
    "rain_optimum_to_mm": 1200,
    "rain_highest_mm": 2000,
}


def make_species(slug, status=None, traits=None, **more):
    row = Species.objects.create(
        slug=slug, scientific_name=slug.capitalize().replace("-", " "), genus=slug, family="Testaceae",
        growth_form="tree", source="made up for a test", **more,
    )  # fmt: skip
    for key, value in (traits or {}).items():
        words = isinstance(value, str)
        SpeciesTrait.objects.create(
            species=row, trait=key, value_text=value if words else "", value_number=None if words else value,
            unit="" if words else "mm/year", source="a test", basis="measured",
        )  # fmt: skip
    if status:
        RangeStatus.objects.create(species=row, country_code="PT", status=status, source="a test")
    return row


@pytest.fixture
def climate(actor, site):
    return windows.set_climate(actor=actor, site=site, climate_normals=NORMALS, climate_source="Hill station")


@pytest.fixture
def ground(site, hill, climate):
    SoilSample.objects.create(
        organisation=hill,
        site=site,
        label="1",
        taken_on=date(2026, 5, 1),
        texture="fine",
        ph=6.0,
        depth_cm=40,
    )
    SoilSample.objects.create(
        organisation=hill,
        site=site,
        label="2",
        taken_on=date(2026, 5, 1),
        texture="fine",
        ph=5.0,
        depth_cm=80,
    )
    return site


def page(signed_in, person, block, query=""):
    address = reverse("projects:species_chooser", kwargs={"org": "hill", "uid": block.uid})
    return signed_in(person).get(address + query)


def fresh(block):
    return type(block).objects.select_related("site", "organisation").get(pk=block.pk)


def text_of(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


def test_what_is_known_of_a_place_comes_from_normals_samples_and_assessment(block, ground, hill):
    SiteAssessment.objects.create(organisation=hill, site=block.site, light="full_sun")
    found = site_facts.facts_of(fresh(block))
    assert found.facts["rain_mm"] == 633
    assert (found.facts["coldest_month_c"], found.facts["hottest_month_c"]) == (5, 32)
    assert found.facts["dry_months"] == 4
    assert found.facts["soil_ph"] == pytest.approx(5.5)
    assert (found.facts["soil_texture"], found.facts["light"], found.n_samples) == ("fine", "full_sun", 2)
    assert "salinity_ds_per_m" not in found.facts


def test_samples_of_the_block_itself_outrank_those_of_its_site(block, ground, hill):
    SoilSample.objects.create(
        organisation=hill,
        site=block.site,
        block=block,
        label="3",
        taken_on=date(2026, 5, 1),
        texture="coarse",
    )
    found = site_facts.facts_of(fresh(block))
    assert found.facts["soil_texture"] == "coarse"
    assert "soil_ph" not in found.facts


def test_the_limit_is_named_with_both_numbers(signed_in, ana, block, ground):
    wet = {
        "rain_lowest_mm": 500,
        "rain_optimum_from_mm": 900,
        "rain_optimum_to_mm": 1500,
        "rain_highest_mm": 2500,
    }
    make_species("wetwood", "native", wet)
    make_species("sandwood", "native", {"soil_textures": "coarse medium"})
    text = text_of(page(signed_in, ana, block))
    assert "rain in a year: 633 mm here, it wants 900 mm or more" in text
    assert "soil texture: it does not stand “clayey”" in text


def test_invasive_is_refused_introduced_warned_and_unknown_told(signed_in, ana, block, ground):
    make_species("badwood", "invasive", RAIN)
    make_species("newwood", "introduced", RAIN)
    make_species("farwood", None, RAIN)
    response = page(signed_in, ana, block)
    slugs = [row["choice"].species.slug for row in response.context["chosen"]]
    assert [row["choice"].species.slug for row in response.context["refused"]] == ["badwood"]
    assert "badwood" not in slugs
    text = text_of(response)
    assert "planting it needs a reason" in text
    assert "ask the local authority before planting" in text


def test_a_species_nobody_has_described_is_not_known_and_stands_behind_those_that_fit(
    signed_in, ana, block, ground
):
    make_species("mystery", "native")
    make_species("fitting", "native", RAIN)
    context = page(signed_in, ana, block).context
    rows = [*context["chosen"], *context["rest"]]
    by_slug = {row["choice"].species.slug: row for row in rows}
    assert by_slug["mystery"]["verdict"] == "not known"
    assert by_slug["fitting"]["verdict"] == "fits"
    assert "soil pH" in by_slug["fitting"]["unknown"]
    order = list(by_slug)
    assert order.index("fitting") < order.index("mystery")


@pytest.mark.parametrize(
    ("query", "kept"),
    [
        ("?status=native", {"nat"}),
        ("?fixes_nitrogen=on", {"fixer"}),
        ("?shade=shade_bearer", {"shady"}),
        ("?form=shrub", {"bush"}),
    ],
)
def test_filters_keep_what_they_say(signed_in, ana, block, ground, query, kept):
    make_species("nat", "native", RAIN)
    make_species("fixer", "introduced", RAIN, is_nitrogen_fixer=True)
    make_species("shady", "introduced", RAIN, shade_class="shade_bearer")
    bush = make_species("bush", "introduced", RAIN)
    Species.objects.filter(pk=bush.pk).update(growth_form="shrub")
    made = {"nat", "fixer", "shady", "bush"}
    rows = page(signed_in, ana, block, query).context["chosen"]
    assert {row["choice"].species.slug for row in rows} & made == kept


def test_plants_on_hand_are_a_filter(signed_in, ana, block, ground, lot):
    make_species("absent", "native", RAIN)
    rows = page(signed_in, ana, block, "?in_stock=on").context["rest"]
    assert [row["choice"].species for row in rows] == [lot.species]
    assert rows[0]["choice"].in_stock > 0


def test_purpose_and_role_are_filters_and_what_nobody_has_told_is_shown_apart(signed_in, ana, block, ground):
    make_species("fruiting", "native", RAIN | {"uses": "fruit honey", "roles": "main"})
    make_species("timbering", "native", RAIN | {"uses": "timber", "roles": "nurse pioneer"})
    make_species("untold", "native", RAIN)

    def kept(query):
        context = page(signed_in, ana, block, query).context
        return [[row["choice"].species.slug for row in context[name]] for name in ("chosen", "unknown")]

    assert kept("?use=honey") == [["fruiting"], ["untold"]]
    assert kept("?role=nurse") == [["timbering"], ["untold"]]
    assert kept("?use=honey&role=nurse") == [[], ["untold"]]
    assert kept("?use=honey&status=introduced") == [[], []]
    assert "left out only because nobody has told" in text_of(page(signed_in, ana, block, "?use=honey"))
    assert kept("") == [["fruiting", "timbering", "untold"], []]


def test_what_serves_the_project_most_comes_first_among_equals(signed_in, ana, block, ground, hill):
    for use, weight in (("fruit", 6), ("soil", 2)):
        ProjectPurpose.objects.create(organisation=hill, project=block.project, use=use, weight=weight)
    make_species("a-soil", "native", RAIN | {"uses": "soil"})
    make_species("b-fruit", "native", RAIN | {"uses": "fruit timber"})
    make_species("c-untold", "native", RAIN)
    make_species("d-foreign", "introduced", RAIN | {"uses": "fruit soil"})
    response = page(signed_in, ana, block)
    found = [(row["choice"].species.slug, row["choice"].serves) for row in response.context["chosen"]]
    assert found == [("b-fruit", 0.75), ("a-soil", 0.25), ("c-untold", None), ("d-foreign", 1.0)]
    assert re.search(r"serves 75\s% of what the project is for", text_of(response))


def offer(nursery, species, price, **more):
    return StockOffer.objects.create(
        organisation=nursery.organisation, nursery=nursery, species=species, stock_type="container",
        unit_price_minor=price, **more,
    )  # fmt: skip


def test_price_lists_that_hold_today_give_the_cheapest_price_of_each_currency_and_how_many(
    signed_in, ana, block, ground, lot, other
):
    nursery, sold, unsold = (
        lot.nursery,
        make_species("sold", "native", RAIN),
        make_species("unsold", "native", RAIN),
    )
    offer(nursery, sold, 90, on_offer=300)
    offer(nursery, sold, 62, on_offer=1000)
    offer(nursery, sold, 5, currency="KES", on_offer=20)
    offer(nursery, sold, 1, valid_until=date(2020, 1, 1), on_offer=7)
    offer(factories.lot(other, sold).nursery, unsold, 1)
    response = page(signed_in, ana, block, "?on_offer=on")
    assert [row["choice"].species.slug for row in response.context["chosen"]] == ["sold"]
    text = text_of(response)
    assert "on offer from EUR 0.62 · KES 0.05 each" in text
    assert "1 320 plants" in text
    offer(nursery, sold, 99)
    assert page(signed_in, ana, block).context["chosen"][0]["choice"].on_offer is None


def test_the_source_of_an_invasive_status_is_told_and_own_values_are_marked(
    signed_in, ana, block, ground, hill
):
    bad = make_species("badwood", "native", RAIN)
    RangeStatus.objects.create(
        species=bad,
        country_code="PT",
        status="invasive",
        source="Ministry list 2024",
        owner_organisation_uid=hill.uid,
    )
    marked = make_species("marked", "native", RAIN)
    SpeciesTrait.objects.create(
        species=marked, trait="uses", value_text="soil", source="our walk", basis="measured",
        owner_organisation_uid=hill.uid,
    )  # fmt: skip
    text = text_of(page(signed_in, ana, block))
    assert "Badwood : Ministry list 2024 (your own)" in text
    assert text.count("judged with values of your own") == 1


def test_each_drawing_says_in_words_what_it_shows(signed_in, ana, block, ground):
    make_species("wordy", "native", RAIN | {"coldest_month_lowest_c": -8, "coldest_month_optimum_from_c": 2})
    text = text_of(page(signed_in, ana, block))
    assert "lives from 400 mm to 2 000 mm, best from 600 mm to 1 200 mm" in text
    assert "lives from −8 °C up, best from 2 °C up" in text


def test_a_filter_that_cannot_be_is_told(signed_in, ana, block):
    response = page(signed_in, ana, block, "?shade=purple")
    assert response.status_code == 422


def test_queries_do_not_grow_with_the_species(block, ground, django_assert_max_num_queries):
    facts = site_facts.facts_of(fresh(block))
    for number in range(3):
        make_species(f"few-{number}", "native", RAIN)
    with django_assert_max_num_queries(12) as few:
        chooser.choices(block, facts, chooser.Wishes())
    for number in range(30):
        make_species(f"many-{number}", "native", RAIN)
    with django_assert_max_num_queries(12) as many:
        chooser.choices(block, facts, chooser.Wishes())
    assert len(many) == len(few)


def test_strips_stay_inside_their_drawing(block, ground):
    wide = {
        "rain_lowest_mm": 0,
        "rain_optimum_from_mm": 10,
        "rain_optimum_to_mm": 5000,
        "rain_highest_mm": 9000,
    }
    make_species("wide", "native", wide)
    (found,) = [
        c
        for c in chooser.choices(block, site_facts.facts_of(fresh(block)), chooser.Wishes())
        if c.species.slug == "wide"
    ]
    (strip,) = found.strips
    for start, width in (strip.limits, strip.optimum):
        assert 0 <= start <= 100
        assert 0 <= start + width <= 100
    assert 0 <= strip.site <= 100
