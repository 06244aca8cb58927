"""Rounds, plots, phones and cases in the browser."""

import re

import pytest
from django.urls import reverse

from monitoring.models import Case, PlotBaseline, RoundBlock, RoundPlot, SurveyRound, SurvivalPlot, Visit
from projects.models import FieldPass, HistoryEntry
from projects.services import log
from tests import factories
from tests.field_log.visits import item, line, visit_body
from tests.rounds.conftest import url

pytestmark = pytest.mark.django_db


def test_a_manager_lays_out_a_plot_sets_its_baseline_and_opens_a_round(
    page, hill, project, block, oak, cohort
):
    season = factories.season(hill, "reporting", year=2026)
    answer = page.post(
        url("plot_new", uid=block.uid),
        {"name": "N9", "shape": "circle", "radius_m": "5,64", "selection_method": "random", "seed": "7"},
    )
    plot = SurvivalPlot.objects.get(name="N9")
    assert answer.url == url("plot_detail", uid=plot.uid)
    page.post(
        url("baseline_set", uid=plot.uid),
        {
            "species": oak.pk, "cohort": cohort.pk, "planted": "21", "unit": "tree", "source": "at_planting",
            "counted_on": "2024-03-01",
        },
    )  # fmt: skip
    assert PlotBaseline.objects.get(plot=plot).planted == 21
    page.post(
        url("round_new"),
        {
            "project": project.pk, "name": "Autumn", "season": season.pk, "opens_on": "2026-09-01",
            "closes_on": "2026-10-31", "protocol": "1", "blocks": [block.pk],
        },
    )  # fmt: skip
    assert list(SurveyRound.objects.get(name="Autumn").round_plots.values_list("plot__name", flat=True)) == [
        "N9"
    ]
    assert HistoryEntry.objects.filter(verb="round.opened").exists()
    text = page.get(url("plot_detail", uid=plot.uid)).content.decode()
    assert "100 m²" in text


def test_bad_input_is_answered_beside_its_field_and_nothing_is_written(page, block):
    typed = {"name": "N9", "shape": "circle", "radius_m": "five", "selection_method": "random"}
    answer = page.post(url("plot_new", uid=block.uid), typed)
    assert answer.status_code == 422
    assert "Write a number, such as 2.5." in answer.content.decode()
    assert 'value="five"' in answer.content.decode()
    answer = page.post(
        url("plot_new", uid=block.uid), {"name": "N9", "shape": "circle", "selection_method": "random"}
    )
    assert answer.status_code == 422
    assert "Write this measure of the plot" in answer.content.decode()
    assert not SurvivalPlot.objects.exists()


def test_a_pass_shows_its_code_once_and_can_be_ended(page, survey_round):
    answer = page.post(
        url("pass_new"), {"person_name": "Volunteer 3", "rounds": [survey_round.pk], "valid_days": "30"}
    )
    text = answer.content.decode()
    code = re.search(r"<bdi dir=\"ltr\">([0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]{2})</bdi>", text).group(1)
    field_pass = FieldPass.objects.get()
    again = page.get(url("pass_detail", uid=field_pass.uid)).content.decode()
    assert code in text
    assert code not in again
    page.post(url("pass_revoke", uid=field_pass.uid))
    field_pass.refresh_from_db()
    assert field_pass.revoked_at is not None


def test_a_pass_is_offered_to_people_who_count_not_to_funders(page, survey_round, ben, fred):
    text = page.get(url("pass_new")).content.decode()
    assert str(ben.person) in text
    assert str(fred.person) not in text


def test_the_round_page_tells_each_plot_apart(page, actor, plots, baselines, survey_round):
    log.append_items(
        actor,
        [
            item(visit_body(plots[0], survey_round, [line(baselines[0], 14)])),
            item(visit_body(plots[1], survey_round, status="missing", reason="unsafe")),
        ],
    )
    text = page.get(url("round_detail", uid=survey_round.uid)).content.decode()
    assert "unsafe, not visited" in text
    assert "not visited yet" in text
    assert "2 of 3 plots visited" in re.sub(r"\s+", " ", text)


def test_the_round_page_asks_the_database_as_often_for_twenty_plots_as_for_two(page, project, block, oak):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def queries(count):
        plots = [factories.plot(block) for _number in range(count)]
        for plot in plots:
            factories.baseline(plot, oak)
        survey_round = factories.survey_round(project, plots)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert page.get(url("round_detail", uid=survey_round.uid)).status_code == 200
        return len(seen)

    queries(1)
    assert queries(2) == queries(20)


def test_a_lead_settles_a_doubt_with_a_reason(signed_in, ben, actor, plots, baselines, survey_round):
    mine = visit_body(plots[0], survey_round, [line(baselines[0], 14)])
    yours = visit_body(plots[0], survey_round, [line(baselines[0], 17)], observed_on="2025-09-15")
    log.append_items(actor, [item(mine), item(yours)])
    case, lead = Case.objects.get(), signed_in(ben)
    assert "Two people counted one plot" in lead.get(url("case_list")).content.decode()
    refused = lead.post(url("case_detail", uid=case.uid), {"choice": f"use:{yours['visit']}", "reason": ""})
    assert refused.status_code == 422
    lead.post(url("case_detail", uid=case.uid), {"choice": f"use:{yours['visit']}", "reason": "went back"})
    assert str(Visit.objects.get(is_counting=True).uid) == yours["visit"]
    assert lead.get(url("case_detail", uid=case.uid)).status_code == 200


def test_a_plot_is_given_up_with_a_reason(page, plots):
    page.post(url("plot_retire", uid=plots[0].uid), {"reason": ""})
    plots[0].refresh_from_db()
    assert plots[0].retired_at is None
    page.post(url("plot_retire", uid=plots[0].uid), {"reason": "a track runs through it"})
    plots[0].refresh_from_db()
    assert plots[0].retired_at is not None


def test_the_pages_of_a_plot_name_its_block_and_the_filter_keeps_what_was_chosen(
    page, block, plots, survey_round
):
    for address in (url("plot_new", uid=block.uid), url("plot_edit", uid=plots[0].uid)):
        text = page.get(address).content.decode()
        assert "<p>North slope, Upper site</p>" in text
        assert f'href="{reverse("projects:block_detail", kwargs={"org": "hill", "uid": block.uid})}"' in text
    other = factories.block(block.organisation, block.project, block.site, name="South slope")
    plot = factories.plot(other)
    RoundBlock.objects.create(organisation=plot.organisation, round=survey_round, block=other)
    RoundPlot.objects.create(organisation=plot.organisation, round=survey_round, plot=plot)
    text = page.get(url("round_detail", uid=survey_round.uid), {"block": str(other.uid)}).content.decode()
    assert f'<option value="{other.uid}" selected>South slope</option>' in text
