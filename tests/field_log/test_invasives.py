"""Natural regeneration of a species invasive in the country opens one care task for the block, in any order."""

import random
from datetime import date

import pytest

from monitoring.services import projection, rebuild
from projects.models import CareTask, Reminder
from projects.services import care, log
from species.models import RangeStatus
from tests import factories
from tests.field_log.visits import correction, item, visit_body


@pytest.fixture
def wattle(db):
    row = factories.species("acacia-dealbata")
    RangeStatus.objects.create(
        species=row, country_code="PT", status="invasive", source="invented for a test"
    )
    return row


def counted(plot, survey_round, *, count=4, slug="acacia-dealbata", **fields):
    grown = [{"species": slug, "name": "", "height_class": "lower", "count": count, "capped": False}]
    return visit_body(plot, survey_round, regeneration=grown, **fields)


def send(actor, *bodies):
    outcomes = log.append_items(actor, [item(body) for body in bodies])
    assert {outcome.outcome for outcome in outcomes} <= {"stored", "stored_flagged"}, outcomes


def told():
    rows = CareTask.objects.order_by("source_key")
    return [(row.block.name, row.kind, row.what, row.source_key.split(":", 2)[2]) for row in rows]


ONE = [("North slope", "invasive", "Pull young Acacia dealbata before it seeds", "acacia-dealbata")]


def test_many_counts_of_one_species_in_one_block_open_one_task(actor, wattle, plots, survey_round):
    send(actor, *(counted(plot, survey_round) for plot in plots))
    assert told() == ONE
    assert Reminder.objects.get(kind="care_due").facts["what"] == ONE[0][2]


@pytest.mark.parametrize("change", ["native", "elsewhere", "none", "in one region"])
def test_a_species_that_is_not_invasive_here_or_was_not_seen_opens_none(
    actor, wattle, plots, survey_round, change
):
    fields = {
        "native": {"status": "native"}, "elsewhere": {"country_code": "KE"}, "none": {},
        "in one region": {"region": "Minho"},
    }[change]  # fmt: skip
    if fields:
        RangeStatus.objects.update(**fields)
    send(actor, counted(plots[0], survey_round, count=0 if change == "none" else 4))
    assert told() == []


def test_the_order_of_arrival_does_not_matter(actor, wattle, plots, survey_round, hill):
    bodies = [counted(plot, survey_round) for plot in plots]
    bodies.append(visit_body(plots[0], survey_round, observed_on="2025-09-20"))
    random.Random(4).shuffle(bodies)
    send(actor, *bodies)
    seen = told()
    CareTask.objects.all().delete()
    projection.rebuild(hill)
    assert told() == seen == ONE


def test_rebuilding_keeps_the_task_with_what_people_wrote_on_it(actor, wattle, plots, survey_round, hill):
    send(actor, counted(plots[0], survey_round))
    task = care.edit_task(actor=actor, task=CareTask.objects.get(), due_by=date(2026, 3, 31))
    rebuild.rebuild(hill)
    kept = CareTask.objects.get()
    assert (kept.uid, kept.due_by) == (task.uid, date(2026, 3, 31))
    assert Reminder.objects.get(kind="care_due").due_on == date(2026, 3, 31)


def test_a_task_done_before_the_species_is_counted_again_is_followed_by_another(
    actor, wattle, plots, survey_round, hill
):
    send(actor, counted(plots[0], survey_round, observed_on="2025-09-14"))
    care.finish_task(actor=actor, task=CareTask.objects.get(), done_on=date(2025, 9, 20))
    projection.rebuild(hill)
    assert len(told()) == 1
    send(actor, counted(plots[1], survey_round, observed_on="2025-09-25"))
    send(actor, counted(plots[2], survey_round, observed_on="2025-09-26"))
    projection.rebuild(hill)
    assert [row[3] for row in told()] == ["acacia-dealbata", "acacia-dealbata:2"]


def test_a_task_dropped_before_the_species_is_counted_again_is_followed_by_another(
    actor, wattle, plots, survey_round
):
    send(actor, counted(plots[0], survey_round, observed_on="2025-09-14"))
    CareTask.objects.update(dropped_at="2025-09-20T12:00Z", dropped_because="Pulled by the neighbours")
    send(actor, counted(plots[1], survey_round, observed_on="2025-09-18"))
    assert len(told()) == 1
    send(actor, counted(plots[2], survey_round, observed_on="2025-09-25"))
    assert [row[3] for row in told()] == ["acacia-dealbata", "acacia-dealbata:2"]


def test_a_correction_that_takes_the_sighting_back_leaves_the_task_to_people(
    actor, wattle, plots, survey_round
):
    body = counted(plots[0], survey_round)
    send(actor, body)
    revised, uid = correction(body, regeneration=[])
    log.append_items(actor, [item(revised, id=uid)])
    assert told() == ONE


def test_a_correction_that_brings_the_sighting_opens_the_task(actor, wattle, plots, survey_round):
    body = visit_body(plots[0], survey_round)
    send(actor, body)
    assert told() == []
    revised, uid = correction(body, regeneration=counted(plots[0], survey_round)["regeneration"])
    log.append_items(actor, [item(revised, id=uid)])
    assert told() == ONE


def test_each_block_and_species_has_a_task_of_its_own(
    actor, wattle, plots, survey_round, hill, project, site
):
    other = factories.block(hill, project, site, name="South slope")
    plot = factories.plot(other, "S1")
    tree = factories.species("ailanthus-altissima")
    RangeStatus.objects.create(
        species=tree, country_code="PT", status="invasive", source="invented for a test"
    )
    send(actor, counted(plots[0], survey_round), counted(plot, survey_round))
    send(actor, counted(plots[1], survey_round, slug="ailanthus-altissima"))
    assert {(row[0], row[3]) for row in told()} == {
        ("North slope", "acacia-dealbata"),
        ("North slope", "ailanthus-altissima"),
        ("South slope", "acacia-dealbata"),
    }
