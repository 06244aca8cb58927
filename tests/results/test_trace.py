"""From a survival figure down to lots, deliveries, days and crews, and back up."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from monitoring.selectors import trace, trace_subjects
from projects.access import member_actor
from projects.models import (
    Cohort,
    CrewDay,
    Delivery,
    LotCheck,
    LotMovement,
    LotStorage,
    OrderLine,
    PlantingDay,
    QualityCheck,
    StockLot,
    StockOrder,
)
from tests import factories
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db

PLANTED = date(2024, 2, 10)


@pytest.fixture
def planted(make_hillside):
    """Two blocks planted with a lot each, nothing counted."""
    return make_hillside(2, 1)


@pytest.fixture
def lots(planted):
    """The lots of the two blocks: the first sat 11 days in the open, the second was lifted the day before."""
    first, second = StockLot.objects.order_by("id")
    StockLot.objects.filter(pk=first.pk).update(code="WARM-1", lifted_on=PLANTED - timedelta(days=11))
    StockLot.objects.filter(pk=second.pk).update(code="COOL-2", lifted_on=PLANTED - timedelta(days=1))
    return list(StockLot.objects.order_by("id"))


@pytest.fixture
def read(signed_in, ana):
    """The words of a page of tracing, as the manager reads them."""

    def read(noun, row, query=""):
        answer = signed_in(ana).get(address(f"trace_{noun}", uid=row.uid) + query)
        assert answer.status_code == 200
        return words(answer)

    return read


def cohort_of(lot):
    return Cohort.objects.get(lot=lot)


def link(actor, noun, row):
    return trace_subjects.NOUNS[noun](actor, row.uid, {})


def traced(actor, noun, row):
    subject = link(actor, noun, row)
    return trace.traced(actor, subject, list(trace.plantings_of(actor, subject)))


def plant_elsewhere(lot, block, planted_on=PLANTED, **fields):
    """Some of a lot in another block too."""
    cohort = factories.cohort(block, lot, Cohort.objects.first().season, planted_on=planted_on)
    PlantingDay.objects.filter(cohort=cohort).update(**fields)
    return cohort


# --- down -----------------------------------------------------------------------------------
WAITED = "11 days between lifting and planting, uncooled; bare-root is given 7"


def test_every_noun_leads_with_the_days_the_lot_waited(planted, lots, read):
    warm = lots[0]
    delivery = Delivery.objects.create(
        organisation=warm.organisation, nursery=warm.nursery, delivered_on=date(2024, 2, 9)
    )
    StockLot.objects.filter(pk=warm.pk).update(delivery=delivery)
    cohort = cohort_of(warm)
    for noun, row in (
        ("block", cohort.block), ("cohort", cohort), ("lot", warm), ("nursery", warm.nursery),
        ("delivery", delivery), ("day", cohort.planting_days.get()), ("project", planted.project),
    ):  # fmt: skip
        text = read(noun, row)
        assert f"WARM-1 : {WAITED}" in text, noun
        assert text.index(WAITED) < text.index("How they fare") < text.index("The lots they came in"), noun
    assert WAITED not in read("cohort", cohort_of(lots[1]))


def test_time_in_store_is_not_waiting(lots, read):
    LotStorage.objects.create(
        organisation=lots[0].organisation, lot=lots[0], kind="cold_store",
        from_on=PLANTED - timedelta(days=10), until_on=PLANTED - timedelta(days=1),
    )  # fmt: skip
    text = read("lot", lots[0])
    assert "nothing about how these plants came lies outside its usual range" in text
    assert "2 days out of store when planted 9 days in store before" in text


def test_a_planting_is_told_of_its_own_days_only(planted, lots, read):
    other = plant_elsewhere(lots[1], planted.blocks[0], PLANTED + timedelta(days=9))
    assert "10 days between lifting and planting" in read("cohort", other)
    own = Cohort.objects.get(lot=lots[1], block=planted.blocks[1])
    assert "days between lifting and planting" not in read("cohort", own)
    assert "1 to 10 days between lifting and planting" in read("lot", lots[1])


def test_what_was_seen_at_hand_overs_stands_out_until_it_is_taken_back(lots, read):
    seen = {"organisation": lots[1].organisation, "lot": lots[1], "point": "crew", "verdict": "hold"}
    check = LotCheck.objects.create(
        **seen, root_condition="dry", because="roots dry to the touch", box_temperature_c=9.5,
        sample_size=20, sample_bad=4, accept_up_to=2,
    )  # fmt: skip
    text = read("lot", lots[1])
    for told in (
        "roots dry at a hand-over (handed to the crew)", "was: hold until looked at again",
        "4 of 20 plants looked at closely were not fit to plant; up to 2 was accepted",
        "roots dry to the touch",
    ):  # fmt: skip
        assert told in text
    LotCheck.objects.filter(pk=check.pk).update(voided_at=timezone.now())
    assert "roots dry" not in read("lot", lots[1])


def test_warmth_stands_out_where_a_look_at_the_hand_over_holds_it_against_the_lot(lots, read):
    seen = {"organisation": lots[1].organisation, "lot": lots[1], "verdict": "accept"}
    check = LotCheck.objects.create(**seen, point="crew", root_condition="moist", box_temperature_c=9.5)
    assert "°C in the box at a" not in read("lot", lots[1])  # taken out of the cold to be planted
    for point, warmth, told in (
        ("arrival", 2.2, None), ("arrival", 9.5, "9.5 °C in the box at a hand-over (arrival)"),
        ("nursery", 3.0, "ask for no more than 2.2 °C for unfrozen stock there"), ("field_store", 4.4, None),
        ("field_store", 4.5, "ask for no more than 4.4 °C for unfrozen stock there"),
    ):  # fmt: skip
        LotCheck.objects.filter(pk=check.pk).update(point=point, box_temperature_c=warmth)
        text = read("lot", lots[1])
        assert told in text if told else "°C in the box at a" not in text


def test_what_was_seen_of_a_lot_is_told_of_the_plants_that_were_split_off_later(lots, read):
    """Dry roots on arrival explain deaths whatever code plants had by then; what was seen after they left does not."""
    here = {"organisation": lots[1].organisation}
    split = factories.lot(here["organisation"], lots[1].species, code="COOL-2a", received=0)
    deeper = factories.lot(here["organisation"], lots[1].species, code="COOL-2aa", received=0)
    for parent, child, day in ((lots[1], split, 8), (split, deeper, 9)):
        LotMovement.objects.create(
            **here, lot=parent, to_lot=child, kind="moved_on", quantity=90, moved_on=date(2024, 2, day)
        )
    seen = {**here, "lot": lots[1], "verdict": "accept"}
    dry = LotCheck.objects.create(
        **seen, point="arrival", root_condition="dry", checked_at=datetime(2024, 2, 8, 22, tzinfo=UTC)
    )
    LotCheck.objects.create(
        **seen, point="field_store", root_condition="spoilt", checked_at=datetime(2024, 2, 9, 8, tzinfo=UTC)
    )
    for lot in (split, deeper):
        text = read("lot", lot)
        assert "roots dry at a hand-over (arrival)" in text
        assert "roots spoilt" not in text and "No look at a hand-over" not in text
    LotCheck.objects.filter(pk=dry.pk).update(checked_at=datetime(2024, 2, 9, 0, 30, tzinfo=UTC))
    assert "roots dry" not in read("lot", split)


def test_what_came_is_held_against_what_was_ordered(planted, lots, oak, read):
    pine = factories.species("pinus-pinaster")
    here = {"organisation": lots[1].organisation}
    order = StockOrder.objects.create(
        **here, project=planted.project, nursery=lots[1].nursery, reference="O-7", status="closed",
        promised_on=date(2024, 1, 20), needed_by=date(2024, 3, 1),
    )  # fmt: skip
    line = OrderLine.objects.create(**here, order=order, species=pine, stock_type="container", quantity=1500)
    delivery = Delivery.objects.create(
        **here, order=order, nursery=lots[1].nursery, delivered_on=date(2024, 2, 1)
    )
    StockLot.objects.filter(pk=lots[1].pk).update(delivery=delivery, order_line=line)
    text = read("order", order)
    assert "asked for was Pinus pinaster, container-grown, and Quercus robur, bare-root came" in text
    assert "12 days later than it was to come" in text
    assert "1 000 came of 1 500 asked for" in text
    StockOrder.objects.update(status="placed", promised_on=date(2024, 2, 1))
    text = read("delivery", delivery)
    assert "later than it was to come" not in text
    assert "came of" not in text  # the rest may still come
    StockOrder.objects.update(status="closed")
    OrderLine.objects.update(quantity=1000)
    assert "came of" not in read("order", order)


def test_days_show_their_crew_and_how_well_was_planted(planted, lots, read, actor):
    cohort = cohort_of(lots[1])
    here = {"organisation": cohort.organisation, "block": cohort.block}
    crew_day = CrewDay.objects.create(
        **here, day=PLANTED, crew="north", state="no_go", decided_because="frozen ground"
    )
    PlantingDay.objects.filter(cohort=cohort).update(crew="north", crew_day=crew_day)
    made = {**here, "checked_on": PLANTED + timedelta(days=3), "crew_day": crew_day}
    QualityCheck.objects.create(**made, inspected=50, acceptable=38)
    QualityCheck.objects.create(**made, inspected=50, acceptable=50, voided_at=timezone.now())
    QualityCheck.objects.create(**made, inspected=70, acceptable=70, lot=lots[0])
    later = CrewDay.objects.create(**here, day=PLANTED + timedelta(days=1), crew="north", state="closed")
    QualityCheck.objects.create(**{**made, "crew_day": later}, inspected=60, acceptable=60)
    for noun, row in (("crew_day", crew_day), ("cohort", cohort), ("day", cohort.planting_days.get())):
        text = read(noun, row)
        assert "38 of 50 trees looked at were planted as they should be; common practice asks for 90" in text
        assert "planted on a day that had been decided as no-go" in text
        assert "frozen ground" in text


def test_a_lot_nobody_planted_yet_and_a_planting_without_a_lot_say_so(planted, lots, read, oak):
    waiting = factories.lot(lots[0].organisation, oak, code="WAIT-3")
    text = read("lot", waiting)
    assert "Nothing of it has been planted yet" in text and "The lots they came in WAIT-3" in text
    order = StockOrder.objects.create(organisation=waiting.organisation, project=planted.project)
    delivery = Delivery.objects.create(
        organisation=waiting.organisation,
        order=order,
        nursery=waiting.nursery,
        delivered_on=date(2026, 10, 30),
    )
    StockLot.objects.filter(pk=waiting.pk).update(delivery=delivery)
    assert "WAIT-3" in read("delivery", delivery) and "WAIT-3" in read("order", order)
    cohort = cohort_of(lots[1])
    PlantingDay.objects.filter(cohort=cohort).update(lot=None)
    Cohort.objects.filter(pk=cohort.pk).update(lot=None)
    text = read("cohort", cohort)
    assert "the way ends here" in text and "The lot of 1 planting is not known" in text


def test_of_a_planting_only_the_trees_of_the_day_are_told(planted, lots, actor):
    cohort = cohort_of(lots[0])
    day = cohort.planting_days.get()
    PlantingDay.objects.create(
        organisation=day.organisation, block=day.block, cohort=cohort, lot=lots[0], quantity=70,
        planted_on=PLANTED + timedelta(days=1),
    )  # fmt: skip
    assert [row.planted for row in traced(actor, "day", day).rows] == [500]
    assert [row.planted for row in traced(actor, "cohort", cohort).rows] == [570]


def test_a_day_taken_back_is_no_day(lots, read):
    PlantingDay.objects.filter(lot=lots[0]).update(voided_at=timezone.now())
    assert WAITED not in read("lot", lots[0])


def test_what_nobody_wrote_down_is_said(lots, read):
    StockLot.objects.filter(pk=lots[1].pk).update(lifted_on=None)
    text = read("lot", lots[1])
    assert "No day of lifting was written down for COOL-2" in text
    assert "No check at a hand-over was written down for COOL-2" in text


# --- up -------------------------------------------------------------------------------------
@pytest.fixture
def counted(planted, lots):
    """The two blocks counted and computed."""
    planted.send([15, 9], dead_stem=4)
    planted.work()
    return planted


def test_the_same_lot_elsewhere_stands_beside_with_its_own_figure(counted, lots, actor, read):
    """Three ties: the same lot, a lot split from it, the same crew on the same day; each planting once."""
    split = factories.lot(lots[0].organisation, lots[0].species, code="WARM-1b", received=0)
    LotMovement.objects.create(
        organisation=split.organisation, lot=lots[0], to_lot=split, kind="moved_on", quantity=90,
        moved_on=PLANTED - timedelta(days=2),
    )  # fmt: skip
    field = factories.block(counted.actor.organisation, counted.project, counted.blocks[0].site)
    same, child = plant_elsewhere(lots[0], field), plant_elsewhere(split, field)
    PlantingDay.objects.filter(lot__in=lots).update(crew="north")
    found = traced(actor, "block", counted.blocks[0])
    assert {group.kind: [row.cohort for row in group.rows] for group in found.beside} == {
        "lot": [same], "family": [child], "day": [cohort_of(lots[1])],
    }  # fmt: skip
    beside = found.beside[2].rows[0]
    assert beside.point is not None and beside.point.line.survival.scope == "cohort"
    assert beside.planted == 500
    text = read("block", counted.blocks[0])
    assert "one block alone cannot" in text
    assert "WARM-1b" in read("lot", lots[0]) and "Split from WARM-1" in read("lot", split)


def test_deliveries_tie_other_lots(planted, lots, actor):
    delivery = Delivery.objects.create(
        organisation=lots[0].organisation, nursery=lots[0].nursery, delivered_on=date(2024, 2, 9)
    )
    StockLot.objects.update(delivery=delivery)
    found = traced(actor, "cohort", cohort_of(lots[0]))
    assert {group.kind: [row.cohort for row in group.rows] for group in found.beside} == {
        "delivery": [cohort_of(lots[1])]
    }


def test_crews_are_listed_and_each_shows_what_it_planted(signed_in, ana, planted, lots):
    client = signed_in(ana)
    assert "No crew is on record yet" in words(client.get(address("trace_crew")))
    PlantingDay.objects.filter(lot=lots[0]).update(crew="north & south")
    assert "north &amp; south" in words(client.get(address("trace_crew")))
    chosen = client.get(address("trace_crew"), {"name": "north & south"})
    assert f"WARM-1 : {WAITED}" in words(chosen) and "COOL-2" not in words(chosen)
    assert client.get(address("trace_crew"), {"name": "nobody"}).status_code == 404


# --- links and walls ------------------------------------------------------------------------
def test_figures_of_rounds_and_comparisons_lead_to_where_their_trees_came_from(signed_in, ana, counted, lots):
    client = signed_in(ana)
    pages = [
        client.get(address(name, uid=counted.survey_round.uid)).content.decode()
        for name in ("round_detail", "compare")
    ]
    links = set(re.findall(r'href="(/o/hill/where-from/[^"]+)"', "".join(pages)))
    kinds = {found.split("/")[4] for found in links}
    assert kinds == {"block", "cohort", "lot", "nursery", "project"}
    assert any("?species=quercus-robur" in found for found in links)
    assert any("?stock=bare_root" in found for found in links)
    for found in links:
        assert "What stands out" in words(client.get(found)), found


def test_those_who_do_not_follow_stock_are_offered_no_way_there(signed_in, counted, lots):
    fred = factories.member(counted.project.organisation, "funder", projects=[counted.project])
    page = signed_in(fred).get(address("round_detail", uid=counted.survey_round.uid))
    assert page.status_code == 200 and "where-from" not in page.content.decode()


def test_a_lead_of_one_project_follows_a_lot_only_there(planted, lots, actor):
    """The lot went into another project's block too, and was ordered for that project."""
    org = planted.project.organisation
    other = factories.project(org)
    away = factories.block(org, other, planted.blocks[0].site, name="Away")
    plant_elsewhere(lots[0], away)
    order = StockOrder.objects.create(organisation=org, project=other, reference="O-AWAY", status="closed")
    delivery = Delivery.objects.create(
        organisation=org, order=order, nursery=lots[0].nursery, delivered_on=date(2024, 2, 9)
    )
    StockLot.objects.filter(pk=lots[0].pk).update(delivery=delivery)
    lead = member_actor(factories.member(org, "field_lead", projects=[planted.project]))
    seen, whole = traced(lead, "lot", lots[0]), traced(actor, "lot", lots[0])
    assert [row.cohort.block.name for row in seen.rows] == ["Block 01"]
    assert [day.row.block.name for day in seen.days] == ["Block 01"]
    assert seen.lots[0].order is None
    assert {row.cohort.block.name for row in whole.rows} == {"Block 01", "Away"}
    assert whole.lots[0].order == order


def test_one_species_of_a_block_is_followed_alone(planted, lots, read):
    pine = factories.lot(lots[0].organisation, factories.species("pinus-pinaster"), code="PINE-9")
    plant_elsewhere(pine, planted.blocks[0])
    text = read("block", planted.blocks[0], "?species=quercus-robur")
    assert "Quercus robur, Block 01" in text and "WARM-1" in text and "PINE-9" not in text
    assert "PINE-9" in read("block", planted.blocks[0])


def test_a_species_no_database_could_hold_is_nowhere(signed_in, ana, planted):
    for asked in ("%00", "quercus%00", "nowhere"):
        page = address("trace_block", uid=planted.blocks[0].uid) + f"?species={asked}"
        assert signed_in(ana).get(page).status_code == 404


def test_queries_do_not_grow_with_lots_and_days(signed_in, ana, planted, lots):
    client, page = signed_in(ana), address("trace_project", uid=planted.project.uid)

    def queries():
        with CaptureQueriesContext(connection) as asked:
            assert client.get(page).status_code == 200
        return len(asked)

    def more(number):
        lot = factories.lot(lots[0].organisation, lots[0].species, lifted_on=PLANTED)
        LotCheck.objects.create(organisation=lot.organisation, lot=lot, verdict="accept")
        plant_elsewhere(lot, planted.blocks[number % 2])

    more(0)
    before = queries()
    for number in range(6):
        more(number)
    assert queries() == before


@pytest.mark.parametrize("page", ["order", "delivery", "planting_day", "crew_day"])
def test_the_pages_of_stock_and_planting_lead_to_what_came_of_them(
    client, hill, project, block, lot, cohort, page
):
    order = StockOrder.objects.create(
        organisation=hill, project=project, nursery=lot.nursery, status="closed"
    )
    delivery = Delivery.objects.create(
        organisation=hill, order=order, nursery=lot.nursery, delivered_on=date(2024, 2, 1)
    )
    crew_day = CrewDay.objects.create(organisation=hill, block=block, day=date(2024, 2, 10), state="closed")
    row = {
        "order": order,
        "delivery": delivery,
        "crew_day": crew_day,
        "planting_day": cohort.planting_days.first(),
    }[page]
    lead = factories.member(hill, "field_lead")
    client.force_login(lead.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    shown = client.get(
        reverse(f"projects:{page}_detail", kwargs={"org": "hill", "uid": row.uid})
    ).content.decode()
    noun = {"planting_day": "day"}.get(page, page)
    target = reverse(f"monitoring:trace_{noun}", kwargs={"org": "hill", "uid": row.uid})
    assert f'href="{target}"' in shown
    assert client.get(target).status_code == 200
