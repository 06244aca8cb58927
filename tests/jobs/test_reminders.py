"""What monitoring puts on the list of things to decide."""

from datetime import date
from decimal import Decimal

import pytest

from monitoring.models import Case, DirtyKey, Estimate
from monitoring.services import reminders
from projects import clocks, reminder_words
from projects.models import OrderLine, PlantingWindow, Reminder, StockOrder
from projects.services import projects
from tests import factories
from tests.jobs.conftest import ALIVE
from tests.jobs.figures import headline

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today(monkeypatch):
    monkeypatch.setattr(clocks, "today_of", lambda organisation: date(2025, 9, 20))


def window_for(block, opens_on=date(2026, 1, 10)):
    return PlantingWindow.objects.create(
        organisation=block.organisation, block=block, stock_type="bare_root",
        opens_on=opens_on, closes_on=date(2026, 3, 20),
    )  # fmt: skip


def test_missing_trees_ask_for_an_order_by_its_date(slopes, work):
    window_for(slopes.north)
    slopes.send([4] * 6 + [24] * 6)
    work()
    row = Reminder.objects.get(kind="replace_order", subject_uid=slopes.north.uid)
    assert row.due_on == date(2025, 10, 18)  # ten weeks of lead time and two of slack
    assert row.link == f"/o/hill/block/{slopes.north.uid}/"
    assert row.facts["n_assured"] >= row.facts["n_expected"] > 0
    assert not Reminder.objects.filter(kind="falls_short", subject_uid=slopes.north.uid).exists()


def test_an_order_on_its_way_ends_the_reminder(slopes, work, hill, project, oak):
    window_for(slopes.north)
    slopes.send([4] * 6 + [24] * 6)
    order = StockOrder.objects.create(organisation=hill, project=project)
    OrderLine.objects.create(
        organisation=hill, order=order, block=slopes.north, species=oak, stock_type="bare_root", quantity=400
    )
    work()
    assert not Reminder.objects.filter(
        subject_uid=slopes.north.uid, kind__in=("replace_order", "falls_short")
    ).exists()


def test_plots_left_in_an_open_round_are_due_when_it_closes(slopes, work):
    slopes.send(ALIVE)
    factories.m.RoundPlot.objects.create(
        organisation=slopes.north.organisation,
        round=slopes.survey_round,
        plot=factories.plot(slopes.north, "Z"),
    )
    work()
    row = Reminder.objects.get(kind="round_due")
    assert (row.due_on, row.facts["plots_left"], row.facts["plots"]) == (date(2025, 10, 31), 1, 13)
    slopes.survey_round.status = "closed"
    slopes.survey_round.save()
    reminders.renew(slopes.north.organisation)
    assert not Reminder.objects.filter(kind="round_due").exists()


def test_open_cases_are_counted_by_round(slopes, work):
    slopes.send([21, 22, *ALIVE[2:]])
    work()
    row = Reminder.objects.get(kind="case_open")
    kinds = sorted(Case.objects.values_list("kind", flat=True))
    assert kinds == ["over_baseline", "over_baseline", "totals_disagree"]
    assert (row.subject_uid, row.facts["n_cases"]) == (slopes.survey_round.uid, 3)
    assert row.link == f"/o/hill/case/?round={slopes.survey_round.uid}"


def test_an_outcome_not_settled_says_what_would_settle_it(slopes, work):
    slopes.send(ALIVE)
    work()
    figure = headline("block", block=slopes.north)
    assert (figure.outcome, figure.next_step) == ("not_settled", "look_again")
    row = Reminder.objects.get(kind="look_again", subject_uid=slopes.north.uid)
    assert row.facts["not_found"] == figure.facts["not_found"] == 120 - 6 - sum(ALIVE[:6])
    assert row.due_on == date(2025, 10, 31)


def test_few_plots_near_the_target_ask_for_more(count, work, plots, baselines):
    for plot, baseline, alive in zip(plots, baselines, (19, 17, 14), strict=True):
        count(plot, baseline, alive, dead_stem=20 - alive)
    work()
    row = Reminder.objects.get(kind="not_settled")
    assert row.facts["more_plots"] == headline("block").more_plots > 0


def test_every_reminder_has_words(slopes, work):
    window_for(slopes.north)
    slopes.send([21, *ALIVE[1:]])
    factories.m.RoundPlot.objects.create(
        organisation=slopes.north.organisation,
        round=slopes.survey_round,
        plot=factories.plot(slopes.north, "Z"),
    )
    work()
    assert set(reminders.KINDS) <= set(reminder_words.registered)
    for row in Reminder.objects.all():
        words = reminder_words.words_for(row.kind, row.facts)
        assert all(words[part] and "%(" not in words[part] for part in ("title", "reason", "action")), (
            row.kind
        )


def test_a_passed_order_date_is_worked_out_again(slopes, work, hill, monkeypatch):
    window_for(slopes.north)
    slopes.send([4] * 6 + [24] * 6)
    work()
    monkeypatch.setattr(clocks, "today_of", lambda organisation: date(2025, 10, 25))
    reminders.renew_all()
    assert list(DirtyKey.objects.values_list("kind", flat=True)) == ["project"]
    work()
    assert Reminder.objects.get(kind="replace_order", subject_uid=slopes.north.uid).due_on == date(
        2026, 10, 18
    )


def test_figures_of_an_older_release_are_marked(slopes, work, hill):
    slopes.send(ALIVE)
    work()
    reminders.renew_all()
    assert not DirtyKey.objects.exists()
    Estimate.objects.update(code_version="0")
    reminders.renew_all()
    assert DirtyKey.objects.filter(kind="round_block").count() == 2
    work()
    assert not Estimate.objects.filter(code_version="0").exists()


def test_a_changed_target_makes_the_figures_of_its_project_stale(slopes, work, actor, project):
    slopes.send(ALIVE)
    work()
    projects.edit_project(actor=actor, project=project, target_survival=Decimal("0.2"))
    assert DirtyKey.objects.filter(kind="round_block").count() == 2
    work()
    assert headline("block", block=slopes.north).outcome == "meets_target"
