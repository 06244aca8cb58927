"""Seed trees and collections: how many parents a lot comes to, who may know where a tree is, when seed ripens."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.calc import seed_trees as calc
from projects.errors import Refusal
from projects.models import HistoryEntry, Person, SeedCollection, SeedShare, SeedTree, StockLot
from projects.selectors.seed import place_words, site_seed
from projects.services import lots, seed
from tests import factories

quick = settings(max_examples=25, deadline=None)


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


# --- parents --------------------------------------------------------------------------------------------------
def test_unequal_shares_behave_like_few_parents():
    """X14: lots of 50/20/10/10/10 % come to 3.125 parents (status number, Lindgren and Kang)."""
    assert calc.parents(5, [50, 20, 10, 10, 10], 100).effective == 3.125


def test_thirty_outcrossers_and_fifty_nine_selfers_catch_a_rare_allele():
    """C6: Brown and Marshall 1995, as quoted by the native seed collection protocol of the United States."""
    assert round(calc.parents(30).chance_outcrossing, 4) == 0.9539
    assert round(calc.parents(59).chance_selfing, 4) == 0.9515


@quick
@given(st.lists(st.floats(0.01, 1000), min_size=1, max_size=80))
def test_effective_parents_lie_between_one_and_the_trees_weighed(shares):
    found = calc.parents(len(shares), shares, 100)
    assert 1 - 1e-9 <= found.effective <= len(shares) + 1e-9
    equal = calc.parents(len(shares), [7.0] * len(shares), 100)
    assert equal.effective == pytest.approx(len(shares))
    assert equal.chance_outcrossing == pytest.approx(calc.parents(len(shares)).chance_outcrossing)
    assert found.chance_outcrossing <= equal.chance_outcrossing + 1e-12


@pytest.mark.parametrize(
    ("trees", "shares", "apart", "warnings"),
    [
        (30, [], 50, ()),
        (29, [], 50, ("few_parents",)),
        (40, [], 49.9, ("close_together",)),
        (40, [], None, ("distance_unknown",)),
        (1, [], None, ("few_parents",)),  # one tree has no neighbour to be related to
        (1, [], 10, ("few_parents",)),
        (40, [1.0] * 10, 60, ("shares_missing",)),
        (40, [1.0] * 41, 60, ("more_shares_than_trees",)),
        (31, [50.0] + [1.0] * 30, 60, ("unequal",)),
    ],
)
def test_what_is_worth_a_warning_gets_one(trees, shares, apart, warnings):
    assert calc.parents(trees, shares, apart).warnings == warnings


def test_the_chance_follows_the_effective_number_once_every_tree_is_weighed():
    uneven = [50.0] + [1.0] * 39
    partly = calc.parents(40, uneven[:20], 60)
    assert partly.chance_outcrossing == calc.parents(40, [], 60).chance_outcrossing
    wholly = calc.parents(40, uneven, 60)
    assert 3 < wholly.effective < 4
    assert wholly.chance_outcrossing == calc.parents(3, [], 60).chance_outcrossing


def test_months_run_over_the_turn_of_the_year():
    assert calc.months_between(11, 2) == [11, 12, 1, 2]
    assert calc.months_between(6, 6) == [6]
    with pytest.raises(ValueError, match="1 to 12"):
        calc.months_between(0, 3)


def test_the_closest_two_trees_are_found():
    # A minute of latitude is a nautical mile of 1,852 m, by definition of the old one to a thousandth.
    places = [(40.0, -7.0), (40.0 + 1 / 60, -7.0), (40.5, -7.0)]
    assert calc.closest_m(places) == pytest.approx(1852, rel=0.002)
    # A degree of longitude at 60 degrees is half as long as on the equator.
    ratio = calc.distance_m((60, 0), (60, 1)) / calc.distance_m((0, 0), (0, 1))
    assert ratio == pytest.approx(0.5, rel=1e-3)
    assert calc.closest_m(places[:1]) is None


# --- pages ------------------------------------------------------------------------------------------------------
@pytest.fixture
def tree(hill, site, oak):
    return SeedTree.objects.create(
        organisation=hill, site=site, species=oak, label="OAK 7", latitude=40.31267, longitude=-7.48901,
        ripe_from_month=10, ripe_to_month=11,
    )  # fmt: skip


@pytest.fixture
def collection(hill, site, oak):
    return SeedCollection.objects.create(
        organisation=hill, site=site, species=oak, seed_lot="S-24-1", collected_on=date(2024, 10, 20),
        mother_trees=5, apart_m=80,
    )  # fmt: skip


def test_a_tree_is_added_changed_and_taken_away(signed_in, ben, site, oak):
    typed = {
        "species": oak.pk, "label": "OAK 9", "latitude": "40,5", "longitude": "-7.5", "ripe_from_month": "11",
        "ripe_to_month": "1", "note": "",
    }  # fmt: skip
    assert signed_in(ben).post(address("seed_tree_new", site), typed).status_code == 302
    row = SeedTree.objects.get()
    assert (row.latitude, row.ripe_from_month, row.ripe_to_month) == (40.5, 11, 1)
    page = signed_in(ben).get(address("site_seed", site)).content.decode()
    assert page.count('class="ripe"') == 3
    assert "November to January" in page
    assert "OAK 9" in page
    signed_in(ben).post(address("seed_tree_edit", row), typed | {"label": "OAK 10"})
    row.refresh_from_db()
    assert row.label == "OAK 10"
    signed_in(ben).post(address("seed_tree_remove", row))
    assert not SeedTree.objects.exists()


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"label": "OAK 7"}, "has this label"),
        ({"label": ""}, "required"),
        ({"latitude": "40.5"}, "both, or neither"),
        ({"latitude": "140", "longitude": "3"}, "90 or less"),
        ({"ripe_from_month": "5"}, "both, or neither"),
        ({"ripe_from_month": "13", "ripe_to_month": "1"}, "valid choice"),
        ({"species": "99999"}, "valid choice"),
    ],
)
def test_a_bad_tree_is_named_on_its_field(signed_in, ana, site, oak, tree, changed, words):
    typed = {"species": oak.pk, "label": "OAK 8"} | changed
    answer = signed_in(ana).post(address("seed_tree_new", site), typed)
    assert (answer.status_code, words in answer.content.decode()) == (422, True)
    assert SeedTree.objects.count() == 1


def test_the_place_of_a_tree_is_exact_for_those_who_gather_and_rough_for_others(actor, site, tree):
    assert place_words(tree, exact=True) == "40.3127, -7.48901"
    assert place_words(tree, exact=False) == "about 40.31, -7.49"
    assert site_seed(actor, site).trees[0].place == "40.3127, -7.48901"


def test_who_may_only_see_seed_reads_no_exact_place(actor, site, tree, monkeypatch):
    from projects import policy

    monkeypatch.setitem(policy.VERBS, "seed.edit", frozenset())
    assert site_seed(actor, site).trees[0].place == "about 40.31, -7.49"


def test_a_collection_is_recorded_and_its_page_tells_what_it_comes_to(signed_in, ben, site, oak, tree):
    typed = {
        "species": oak.pk, "seed_lot": "S-24-9", "collected_on": "2024-10-20", "mother_trees": "5",
        "apart_m": "30", "weight_g": "1 250,5", "purity_share": "98", "germination_share": "85,5",
        "collector": ben.person.pk, "permit_reference": "", "note": "",
    }  # fmt: skip
    answer = signed_in(ben).post(address("seed_collection_new", site), typed)
    row = SeedCollection.objects.get()
    assert answer.url == address("seed_collection_detail", row)
    assert (row.weight_g, row.purity_share, row.germination_share, row.collector) == (
        1250.5, 0.98, 0.855, ben.person,
    )  # fmt: skip
    for name, weight in (("B", 20), ("C", 10), ("D", 10), ("E", 10)):
        share = {"seed_tree": "", "label": name, "weight_g": str(weight)}
        assert signed_in(ben).post(address("seed_share_new", row), share).status_code == 302
    first = {"seed_tree": tree.pk, "label": "", "weight_g": "50"}
    assert signed_in(ben).post(address("seed_share_new", row), first).status_code == 302
    page = signed_in(ben).get(address("seed_collection_detail", row)).content.decode()
    for words in (
        "<b>3.125</b>",
        "Brown and Marshall 1995",
        "closer than 50 m",
        "about 20 %",
        "trained climbers",
    ):
        assert words in page
    assert "none written down" in page  # the permit
    signed_in(ben).post(address("seed_share_remove", SeedShare.objects.get(label="B")))
    assert row.shares.count() == 4


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"mother_trees": "0"}, "1 or more"),
        ({"mother_trees": "some"}, "whole number"),
        ({"seed_lot": "S-24-1"}, "Add the year or a letter"),
        ({"collected_on": (date.today() + timedelta(days=3)).isoformat()}, "not come yet"),
        ({"purity_share": "120"}, "between 0 and 100"),
        ({"weight_g": "-1"}, "0 or more"),
        ({"collector": "9999999"}, "valid choice"),
    ],
)
def test_a_bad_collection_is_named_on_its_field(signed_in, ana, site, oak, collection, changed, words):
    typed = {
        "species": oak.pk,
        "seed_lot": "S-2",
        "collected_on": "2024-10-20",
        "mother_trees": "5",
    } | changed
    answer = signed_in(ana).post(address("seed_collection_new", site), typed)
    assert (answer.status_code, words in answer.content.decode()) == (422, True)
    assert SeedCollection.objects.count() == 1


def test_the_name_of_who_collected_stays_out_of_the_history(hill, actor, collection):
    person = Person.objects.create(organisation=hill, name="Benedita Invented")
    seed.edit_collection(actor=actor, collection=collection, seed_lot="S-24-1", collector=person)
    entry = HistoryEntry.objects.get(verb="seed_collection.edited")
    assert "Benedita" not in str(entry.change)
    assert "collector" in entry.change


def test_a_share_names_one_tree_of_the_same_kind_and_place_and_only_once(
    hill, actor, site, oak, tree, collection
):
    def share(**values):
        return seed.add_share(actor=actor, collection=collection, **({"weight_g": 5.0} | values))

    share(seed_tree=tree)
    share(label="by the gate")
    ash = factories.species("fraxinus-excelsior")
    here, known = {"organisation": hill, "site": site}, {"organisation": hill, "species": oak}
    other_kind = SeedTree.objects.create(**here, species=ash, label="ASH")
    elsewhere = SeedTree.objects.create(**known, site=factories.site(hill), label="FAR")
    refused = [
        ({"seed_tree": tree}, "there already"), ({"label": "by the gate"}, "there already"), ({}, "one of the two"),
        ({"seed_tree": tree, "label": "x"}, "one of the two"), ({"label": "x", "weight_g": 0.0}, "above 0"),
        ({"seed_tree": other_kind}, "another species"), ({"seed_tree": elsewhere}, "another site"),
    ]  # fmt: skip
    for values, words in refused:
        with pytest.raises(Refusal, match=words):
            share(**values)
    assert collection.shares.count() == 2


def test_what_rests_on_a_species_keeps_it(actor, tree, collection):
    seed.add_share(actor=actor, collection=collection, seed_tree=tree, weight_g=5.0)
    ash = factories.species("fraxinus-excelsior")
    with pytest.raises(Refusal, match="its species stays"):
        seed.edit_tree(actor=actor, tree=tree, species=ash)
    with pytest.raises(Refusal, match="rest on this species"):
        seed.edit_collection(actor=actor, collection=collection, species=ash)
    with pytest.raises(Refusal, match="is in a collection"):
        seed.remove_tree(actor=actor, tree=tree)


# --- plants raised from it ---
def test_a_stock_lot_tells_which_seed_it_was_raised_from(signed_in, ana, ben, lot, collection):
    page = signed_in(ana).get(address("lot_edit", lot)).content.decode()
    assert "Raised from seed you gathered" in page
    assert "S-24-1, Quercus robur, 20 October 2024" in page
    typed = {
        "code": lot.code, "nursery": lot.nursery.pk, "species": lot.species.pk, "stock_type": lot.stock_type,
        "unit": "tree", "received": "1000", "received_on": "2025-11-02", "currency": "EUR",
        "seed_collection": collection.pk,
    }  # fmt: skip
    assert signed_in(ana).post(address("lot_edit", lot), typed).status_code == 302
    assert StockLot.objects.get(pk=lot.pk).seed_collection == collection
    page = signed_in(ben).get(address("lot_detail", lot)).content.decode()
    assert address("seed_collection_detail", collection) in page
    assert "from 5 mother trees" in page
    page = signed_in(ben).get(address("seed_collection_detail", collection)).content.decode()
    assert lot.code in page


def test_who_may_not_see_the_site_is_not_led_to_its_seed(signed_in, hill, lot, cohort, collection):
    collection.site = factories.site(hill)
    collection.save()
    StockLot.objects.filter(pk=lot.pk).update(seed_collection=collection)
    lead = factories.member(hill, "field_lead", projects=[cohort.block.project])
    answer = signed_in(lead).get(address("lot_detail", lot))
    assert (answer.status_code, collection.seed_lot in answer.content.decode()) == (200, False)


def test_plants_of_another_species_or_older_than_the_seed_are_refused(actor, lot, collection):
    with pytest.raises(Refusal, match="after the lot was received"):
        lots.edit_lot(actor=actor, lot=lot, seed_collection=collection)  # received in February 2024
    collection.species = factories.species("fraxinus-excelsior")
    collection.save()
    with pytest.raises(Refusal, match="another species"):
        lots.edit_lot(actor=actor, lot=lot, seed_collection=collection)


def test_the_page_costs_the_same_for_two_collections_and_for_twenty(signed_in, ana, hill, site, oak):
    def grow(first, last):
        for n in range(first, last):
            SeedTree.objects.create(
                organisation=hill, site=site, species=factories.species(f"quercus-s{n}"), label=f"T{n}",
                ripe_from_month=9, ripe_to_month=10,
            )  # fmt: skip
            row = SeedCollection.objects.create(
                organisation=hill, site=site, species=oak, seed_lot=f"C{n}", collected_on=date(2024, 10, 1),
                mother_trees=3,
            )  # fmt: skip
            SeedShare.objects.create(organisation=hill, collection=row, label="A", weight_g=4)

    def cost():
        with CaptureQueriesContext(connection) as queries:
            assert signed_in(ana).get(address("site_seed", site)).status_code == 200
        return len(queries)

    grow(0, 2)
    few = cost()
    grow(2, 20)
    assert cost() == few
