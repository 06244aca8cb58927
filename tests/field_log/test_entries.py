"""Counts typed at a desk: the same log, but the odd is refused with its reason."""

from datetime import date

import pytest

from monitoring.models import Case, CountLine, PlotBaseline, Visit
from monitoring.services import entries, rounds
from monitoring.services import plots as plot_services
from projects.errors import Refusal
from projects.models import Submission
from tests import factories
from tests.field_log.visits import line

pytestmark = pytest.mark.django_db


def test_a_desk_entry_enters_the_log(actor, plots, baselines, survey_round):
    entry = entries.visit_record(
        plot=plots[0],
        survey_round=survey_round,
        observed_on=date(2025, 9, 14),
        lines=[line(baselines[0], 14)],
    )
    assert entries.enter(actor=actor, entry=entry).outcome == "stored"
    assert Submission.objects.get().source == "desk"


@pytest.mark.parametrize(
    ("changes", "observed_on", "field"),
    [
        ({"alive": 21}, date(2025, 9, 14), "alive"),
        ({"alive": -1}, date(2025, 9, 14), "/lines/0/alive"),
        ({"alive": 5, "not_found": 1}, date(2025, 9, 14), "not_found"),
        ({}, date(2199, 1, 1), "observed_on"),
        ({}, date(2023, 1, 1), "observed_on"),
    ],
)
def test_the_desk_refuses_what_the_field_would_flag(
    actor, plots, baselines, survey_round, changes, observed_on, field
):
    entry = entries.visit_record(
        plot=plots[0],
        survey_round=survey_round,
        observed_on=observed_on,
        lines=[line(baselines[0], 14) | changes],
    )
    with pytest.raises(entries.EntryRefused) as refused:
        entries.enter(actor=actor, entry=entry)
    assert refused.value.faults[0].pointer == field
    assert not Submission.objects.exists()
    assert not Visit.objects.exists()
    assert not Case.objects.exists()


def test_a_second_count_of_a_plot_is_entered_as_a_correction(actor, plots, baselines, survey_round):
    def enter(alive, head=None):
        entry = entries.visit_record(
            plot=plots[0], survey_round=survey_round, observed_on=date(2025, 9, 14), head=head,
            lines=[line(baselines[0], alive)],
        )  # fmt: skip
        return entries.enter(actor=actor, entry=entry)

    enter(14)
    with pytest.raises(entries.EntryRefused, match="counted in this round already"):
        enter(15)
    enter(15, head=Visit.objects.get(is_counting=True))
    assert CountLine.objects.get(visit__is_counting=True).alive == 15


def test_a_baseline_set_at_the_desk_has_revisions(actor, plots, oak, cohort):
    uid = entries.set_baseline(
        actor=actor, plot=plots[0], species=oak, planted=18, counted_on=date(2024, 3, 1), cohort=cohort
    )
    entries.set_baseline(
        actor=actor,
        plot=plots[0],
        species=oak,
        planted=19,
        counted_on=date(2024, 3, 2),
        cohort=cohort,
        line=uid,
    )
    rows = PlotBaseline.objects.filter(line=uid).order_by("revision")
    assert list(rows.values_list("planted", "is_current")) == [(18, False), (19, True)]


def test_a_plot_knows_its_area_and_refuses_half_a_position(actor, block):
    plot = plot_services.make_plot(actor=actor, block=block, name="A1", shape="circle", radius_m=5.64)
    assert plot.area_m2 == pytest.approx(99.93, abs=0.01)  # "0.01 ha plot", common practice
    with pytest.raises(Refusal) as refused:
        plot_services.make_plot(
            actor=actor, block=block, name="A2", shape="circle", radius_m=5.64, latitude=41.0
        )
    assert refused.value.field == "latitude"
    with pytest.raises(Refusal) as refused:
        plot_services.make_plot(actor=actor, block=block, name="A1", shape="circle", radius_m=3.99)
    assert refused.value.field == "name"


def test_a_round_takes_the_plots_in_use_of_its_blocks(actor, hill, project, block):
    kept = factories.plot(block, "K")
    given_up = plot_services.retire_plot(
        actor=actor, plot=factories.plot(block, "G"), reason="under a new track"
    )
    season = factories.season(hill, "reporting", year=2026)
    opened = rounds.open_round(
        actor=actor, project=project, blocks=[block], name="Autumn", season=season,
        opens_on=date(2026, 9, 1), closes_on=date(2026, 10, 31),
    )  # fmt: skip
    assert list(opened.round_plots.values_list("plot_id", flat=True)) == [kept.pk]
    assert given_up.retired_at is not None
    assert rounds.close_round(actor=actor, survey_round=opened).status == "closed"


def test_a_round_refuses_dates_that_run_backwards_and_blocks_of_another_project(
    actor, hill, project, block, site
):
    season = factories.season(hill, "reporting", year=2026)
    common = {"actor": actor, "project": project, "name": "Autumn", "season": season}
    with pytest.raises(Refusal) as refused:
        rounds.open_round(blocks=[block], opens_on=date(2026, 9, 1), closes_on=date(2026, 8, 1), **common)
    assert refused.value.field == "closes_on"
    stray = factories.block(hill, factories.project(hill), site)
    with pytest.raises(Refusal) as refused:
        rounds.open_round(blocks=[stray], opens_on=date(2026, 9, 1), closes_on=date(2026, 9, 2), **common)
    assert refused.value.field == "blocks"
