"""Whose word counts: an organisation's own rows stand in for the shared ones, and nobody ever meets a stranger's."""

import ast
from itertools import product
from uuid import UUID

import pytest

from monitoring.selectors.field_pack import species_list
from monitoring.selectors.stocking_rows import invasive_species
from monitoring.services import invasives
from projects.errors import Refusal
from projects.selectors import chooser, site_facts
from projects.services import invasive
from species.access import standing_ranges, standing_traits
from species.models import RangeStatus, SpeciesTrait
from species.selectors.facts import range_statuses, traits_of
from species.selectors.pages import covered_countries, species_page
from species.services.reference import load_reference
from tests import factories
from tests.structure.source import APPS, modules, name_of

pytestmark = pytest.mark.django_db
OURS, THEIRS = UUID(int=1), UUID(int=2)
OWNERS = {"shared": None, "ours": OURS, "theirs": THEIRS}


def rain(species, value, owner=None, trait="rain_lowest_mm"):
    return SpeciesTrait.objects.create(
        species=species, trait=trait, value_number=value, unit="mm/year", source=f"told by {owner}",
        basis="literature", owner_organisation_uid=owner,
    )  # fmt: skip


def standing(species, status, owner=None, country="PT", region=""):
    return RangeStatus.objects.create(
        species=species, country_code=country, region=region, status=status, source=f"told by {owner}",
        owner_organisation_uid=owner,
    )  # fmt: skip


@pytest.mark.parametrize("given", list(product([False, True], repeat=3)))
def test_ours_is_taken_before_the_shared_row_and_theirs_never(oak, given):
    for number, ((_name, owner), there) in enumerate(zip(OWNERS.items(), given, strict=True)):
        if there:
            rain(oak, 100 * (number + 1), owner)
            standing(oak, ("native", "introduced", "invasive")[number], owner)
    shared, ours, _theirs = given
    value = 200 if ours else 100 if shared else None
    status = "introduced" if ours else "native" if shared else "unknown"
    assert traits_of([oak.pk], organisation_uid=OURS).get(oak.pk, {}).get("rain_lowest_mm") == value
    assert range_statuses([oak.pk], "PT", organisation_uid=OURS) == {oak.pk: status}
    value, status = (100, "native") if shared else (None, "unknown")
    assert traits_of([oak.pk], organisation_uid=None).get(oak.pk, {}).get("rain_lowest_mm") == value
    assert range_statuses([oak.pk], "PT", organisation_uid=None) == {oak.pk: status}


def test_an_own_row_stands_in_only_for_the_same_trait_of_the_same_species(oak):
    ash = factories.species("fraxinus-test")
    for species in (oak, ash):
        rain(species, 400)
        rain(species, 600, trait="rain_optimum_from_mm")
    rain(oak, 450, OURS)
    assert traits_of([oak.pk, ash.pk], organisation_uid=OURS) == {
        oak.pk: {"rain_lowest_mm": 450, "rain_optimum_from_mm": 600},
        ash.pk: {"rain_lowest_mm": 400, "rain_optimum_from_mm": 600},
    }
    assert standing_traits(OURS).count() == 4


def test_an_own_status_of_a_country_leaves_the_shared_one_of_a_region_and_of_other_countries(oak):
    standing(oak, "native")
    standing(oak, "introduced", region="PT-30")
    standing(oak, "invasive", country="KE")
    standing(oak, "introduced", OURS)
    at = [("PT", ""), ("PT", "PT-20"), ("PT", "PT-30"), ("KE", "")]
    assert [range_statuses([oak.pk], *place, organisation_uid=OURS)[oak.pk] for place in at] == [
        "introduced", "introduced", "introduced", "invasive",
    ]  # fmt: skip
    standing(oak, "native", OURS, region="PT-30")
    assert range_statuses([oak.pk], "PT", "PT-30", organisation_uid=OURS) == {oak.pk: "native"}
    assert standing_ranges(OURS).count() == 3


def test_pages_show_ours_and_never_theirs(signed_in, ana, hill, other, oak):
    rain(oak, 444, hill.uid)
    rain(oak, 777, other.uid, "rain_highest_mm")
    standing(oak, "introduced", hill.uid)
    standing(oak, "invasive", other.uid, country="KE")
    text = signed_in(ana).get("/o/hill/species/quercus-robur/").content.decode()
    assert "444 mm/year" in text
    assert "777" not in text
    assert "introduced" in text
    assert "Kenya" not in text
    assert covered_countries(hill.uid) == ["PT"]
    assert [row.statuses for row in species_page(organisation_uid=hill.uid).rows] == [
        ["introduced in Portugal"]
    ]
    assert species_page(organisation_uid=hill.uid, country_code="KE", status="invasive").rows == []


def test_the_chooser_judges_by_ours(block, hill, other, oak):
    standing(oak, "native")
    standing(oak, "invasive", other.uid)
    site = site_facts.SiteFacts({"rain_mm": 500.0}, 0, "")
    for value, trait in zip((400, 600, 1200, 2000), fields_of_rain(), strict=True):
        rain(oak, value, trait=trait)
        rain(oak, 9000 + value, other.uid, trait)
    (found,) = chooser.choices(block, site, chooser.Wishes())
    assert (found.status, found.found.score) == ("native", 0.5)
    rain(oak, 500, hill.uid, "rain_optimum_from_mm")
    standing(oak, "introduced", hill.uid)
    (found,) = chooser.choices(block, site, chooser.Wishes())
    assert (found.status, found.found.score) == ("introduced", 1)


def fields_of_rain():
    return ("rain_lowest_mm", "rain_optimum_from_mm", "rain_optimum_to_mm", "rain_highest_mm")


def test_stock_is_refused_by_what_we_hold_invasive(actor, site, oak, hill, other):
    standing(oak, "invasive", other.uid)
    invasive.refuse_invasive(actor, oak)
    standing(oak, "native")
    standing(oak, "invasive", hill.uid)
    with pytest.raises(Refusal, match="invasive in PT"):
        invasive.refuse_invasive(actor, oak)


def test_counts_tasks_and_phones_follow_what_we_hold_invasive(hill, other, oak, plots, survey_round):
    standing(oak, "invasive", other.uid)
    assert not invasive_species(["PT"], hill.uid)
    assert [row["invasive_in"] for row in species_list(hill)] == [[]]
    assert not list(invasives.sightings(plots[0]))
    standing(oak, "invasive", hill.uid)
    assert invasive_species(["PT"], hill.uid) == {"PT": {oak.pk}}
    assert [row["invasive_in"] for row in species_list(hill)] == [["PT"]]


def test_a_shared_invasive_status_we_hold_otherwise_is_not_counted(hill, oak):
    standing(oak, "invasive")
    assert invasive_species(["PT"], hill.uid) == {"PT": {oak.pk}}
    standing(oak, "introduced", hill.uid)
    assert not invasive_species(["PT"], hill.uid)
    assert [row["invasive_in"] for row in species_list(hill)] == [[]]


def test_loading_the_reference_leaves_what_organisations_say_alone(files):
    load_reference(folder=files())
    alder = SpeciesTrait.objects.get(trait="rain_lowest_mm").species
    own = rain(alder, 650, OURS), standing(alder, "introduced", OURS)
    extra = rain(alder, 5000, OURS, "rain_highest_mm")
    report = load_reference(folder=files())
    for counts in report.files.values():
        assert (counts.added, counts.changed, counts.removed) == (0, 0, 0)
    assert SpeciesTrait.objects.filter(pk__in=[own[0].pk, extra.pk]).count() == 2
    assert RangeStatus.objects.filter(pk=own[1].pk).exists()


# Where rows may be read without the rule: the room of the rule, and the loader of the shared files.
MAY_READ_ALL = {"species/access.py", "species/services/reference.py"}


MANAGER_ACTS = {"all", "filter", "exclude", "order_by", "values_list", "first", "exists"}


def test_nobody_else_reads_the_two_tables_without_the_rule():
    wrong = []
    for path in modules(*APPS, "deploy"):
        if name_of(path) in MAY_READ_ALL:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute):
                owner = ast.unparse(node.value)
                direct = node.attr in ("objects", "_default_manager") and owner in (
                    "SpeciesTrait",
                    "RangeStatus",
                )
                related = owner.endswith((".range_statuses", ".traits")) and node.attr in MANAGER_ACTS
                if direct or related:
                    wrong.append(f"{name_of(path)} line {node.lineno}: {ast.unparse(node)}")
    assert wrong == []
