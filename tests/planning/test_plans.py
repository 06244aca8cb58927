"""Plans: versions, the guard of approved ones, what forbids approval, what changed, the way through planning."""

import json
from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from projects import models as p
from projects import plan_steps
from projects.access import member_actor
from projects.calc.plan_differences import ADDED, CHANGED, GONE, differences
from projects.errors import Refusal
from projects.selectors import plan_verdict
from projects.selectors.plan_content import content_of
from projects.selectors.plan_progress import step_rows
from projects.selectors.plans import frame_of
from projects.services import plans
from projects.services.plan_approval import approve_plan, digest
from species.models import RangeStatus
from tests import factories
from tests.planning.plan_rows import Planned, mixed, ready_site


@pytest.fixture
def planned(db):
    return Planned()


@pytest.fixture
def browser(planned):
    client = Client(raise_request_exception=True)
    client.force_login(planned.manager.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client


def at(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


def forbidding(planned):
    frame = frame_of(planned.actor, planned.plan)
    return [each.words for each in plan_verdict.verdict_of(planned.actor, frame).against]


def warnings(planned):
    frame = frame_of(planned.actor, planned.plan)
    return " ".join(each.words for each in plan_verdict.verdict_of(planned.actor, frame).warnings)


# --- versions -------------------------------------------------------------------------------------
def test_a_version_begun_from_another_takes_its_lines_and_allowances(planned):
    plans.edit_plan(actor=planned.actor, plan=planned.plan, cull_share=0.07, season=planned.season)
    planned.plan.refresh_from_db()
    again = plans.begin_plan(actor=planned.actor, project=planned.project, copy_of=planned.plan)
    assert (again.version, again.based_on, again.cull_share, again.season) == (
        2,
        planned.plan,
        0.07,
        planned.season,
    )
    taken = ("block_id", "species_id", "stock_type", "wave", "quantity", "survival_low", "unit_price_minor")
    assert list(again.mix_lines.order_by("id").values_list(*taken)) == list(
        planned.plan.mix_lines.order_by("id").values_list(*taken)
    )
    assert not set(again.mix_lines.values_list("uid", flat=True)) & {line.uid for line in planned.lines}
    assert again.is_draft


def test_an_empty_version_takes_nothing(planned):
    empty = plans.begin_plan(actor=planned.actor, project=planned.project)
    assert (empty.version, empty.based_on, empty.mix_lines.count()) == (2, None, 0)


def test_a_version_of_another_project_is_not_copied(planned):
    other = factories.project(planned.org)
    with pytest.raises(Refusal) as refused:
        plans.begin_plan(actor=planned.actor, project=other, copy_of=planned.plan)
    assert refused.value.field == "copy_of"


def test_a_version_of_another_organisation_is_not_copied(planned):
    stranger = Planned(slug="other")
    with pytest.raises(Refusal):
        plans.begin_plan(actor=planned.actor, project=planned.project, copy_of=stranger.plan)


def test_only_managers_write_plans(planned):
    lead = member_actor(factories.member(planned.org, "field_lead"))
    with pytest.raises(PermissionDenied):
        plans.begin_plan(actor=lead, project=planned.project)
    with pytest.raises(PermissionDenied):
        plans.edit_plan(actor=lead, plan=planned.plan, title="x")
    with pytest.raises(PermissionDenied):
        approve_plan(actor=lead, plan=planned.plan)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"crew_people": 0}, "crew_people"),
        ({"trees_per_person_day": 0}, "trees_per_person_day"),
        ({"cull_share": 0.95}, "cull_share"),
        ({"cull_share": -0.1}, "cull_share"),
        ({"assurance": 0.4}, "assurance"),
        ({"assurance": 1.0}, "assurance"),
    ],
)
def test_an_allowance_that_cannot_be_is_refused_on_its_field(planned, values, field):
    with pytest.raises(Refusal) as refused:
        plans.edit_plan(actor=planned.actor, plan=planned.plan, **values)
    assert refused.value.field == field


def test_the_second_wave_goes_in_after_the_first_and_in_a_planting_season(planned):
    earlier = factories.season(planned.org, label="long ago", year=2020)
    reporting = factories.season(planned.org, "reporting", year=2030)
    for season, first in ((earlier, planned.season), (reporting, None)):
        with pytest.raises(Refusal) as refused:
            plans.edit_plan(actor=planned.actor, plan=planned.plan, season=first, second_season=season)
        assert refused.value.field == "second_season"


# --- approval -------------------------------------------------------------------------------------
def test_an_approved_version_refuses_every_change(planned):
    approve_plan(actor=planned.actor, plan=planned.plan)
    before = p.Plan.objects.filter(pk=planned.plan.pk).values().get()
    with pytest.raises(Refusal) as refused:
        plans.edit_plan(actor=planned.actor, plan=planned.plan, title="other")
    assert refused.value.code == "approved"
    with pytest.raises(Refusal):
        approve_plan(actor=planned.actor, plan=planned.plan)
    assert p.Plan.objects.filter(pk=planned.plan.pk).values().get() == before


def test_approval_keeps_who_and_when_and_is_remembered(planned):
    approved = approve_plan(actor=planned.actor, plan=planned.plan)
    assert (approved.approved_by, approved.is_draft) == (planned.manager.person, False)
    assert p.HistoryEntry.objects.filter(subject_uid=planned.plan.uid, verb="plan.approved").count() == 1


def test_a_plan_without_lines_is_not_approved(planned):
    planned.plan.mix_lines.all().delete()
    with pytest.raises(Refusal, match="Nothing is planted"):
        approve_plan(actor=planned.actor, plan=planned.plan)


def test_a_hard_stop_forbids_it_until_somebody_answers_for_it_by_name(planned):
    answers = planned.site.assessment.answers | {"peat": "yes"}
    p.SiteAssessment.objects.filter(site=planned.site).update(answers=answers)
    assert len(forbidding(planned)) == 1
    with pytest.raises(Refusal, match="peat"):
        approve_plan(actor=planned.actor, plan=planned.plan)
    planned.plan.refresh_from_db()
    assert planned.plan.is_draft
    assert planned.plan.frozen == {}
    p.ReadinessOverride.objects.create(
        organisation=planned.org, site=planned.site, stop="peat", reason="thin and dry",
        approved_by=planned.manager.person, approved_at=timezone.now(),
    )  # fmt: skip
    assert forbidding(planned) == []
    approve_plan(actor=planned.actor, plan=planned.plan)


def test_a_question_nobody_answered_forbids_it_too(planned):
    answers = {**planned.site.assessment.answers, "wetland": "not_known"}
    p.SiteAssessment.objects.filter(site=planned.site).update(answers=answers)
    assert "wetland" in forbidding(planned)[0]


def test_a_stop_on_a_site_the_plan_leaves_alone_does_not_matter(planned):
    elsewhere = factories.site(planned.org, name="Moor")
    factories.block(planned.org, planned.project, elsewhere)
    assert forbidding(planned) == []


def test_an_invasive_species_is_never_approved(planned):
    mixed(planned.plan, planned.blocks[0], "acacia-dealbata", 10)
    RangeStatus.objects.filter(species__slug="acacia-dealbata").update(status="invasive")
    assert "invasive" in forbidding(planned)[0]


def test_a_species_from_elsewhere_needs_a_reason_in_every_line(planned):
    line = mixed(planned.plan, planned.blocks[0], "pinus-nigra", 10)
    RangeStatus.objects.filter(species__slug="pinus-nigra").update(status="introduced")
    assert len(forbidding(planned)) == 1
    p.MixLine.objects.filter(pk=line.pk).update(introduced_reason="  ")
    assert len(forbidding(planned)) == 1
    p.MixLine.objects.filter(pk=line.pk).update(introduced_reason="shelter for the oaks")
    assert forbidding(planned) == []


def test_the_organisations_own_word_on_a_species_counts(planned):
    species = planned.lines[0].species
    RangeStatus.objects.create(
        species=species, country_code="PT", region="", status="invasive", source="our own survey",
        owner_organisation_uid=planned.org.uid,
    )  # fmt: skip
    assert len(forbidding(planned)) == 2  # it stands in both blocks


def test_what_a_manager_should_know_does_not_forbid(planned):
    p.Site.objects.filter(pk=planned.site.pk).update(emergency_contact="")
    soon = timezone.now().date() + timedelta(days=30)
    p.Consent.objects.filter(kind="tenure").update(expires_on=soon)
    p.MixLine.objects.filter(pk=planned.lines[0].pk).update(quantity=9_000, unit_price_minor=None)
    said = warnings(planned)
    for words in ("no emergency number", "right to the land ends on", "9\u202f000 plants are more", "has no price",
                  "No planting season", "West has no planting window for bare-root, container-grown"):  # fmt: skip
        assert words in said
    assert forbidding(planned) == []


def test_an_agreement_that_ends_before_the_season_does_is_told(planned):
    ends = timezone.now().date() + timedelta(days=110)  # beyond what counts as soon, before the season's end
    p.Consent.objects.filter(kind="tenure").update(expires_on=ends)
    assert "ends on" not in warnings(planned)
    plans.edit_plan(actor=planned.actor, plan=planned.plan, season=planned.season)
    planned.plan.refresh_from_db()
    assert "right to the land ends on" in warnings(planned)


def test_windows_that_miss_the_season_are_told(planned):
    plans.edit_plan(actor=planned.actor, plan=planned.plan, season=planned.season)
    planned.plan.refresh_from_db()
    assert "falls into the season" not in warnings(planned)
    later = planned.season.ends_on + timedelta(days=30)
    p.PlantingWindow.objects.update(opens_on=later, closes_on=later + timedelta(days=20))
    assert "East: no window for bare-root falls into the season This winter" in warnings(planned)


def test_other_parts_may_warn(planned, monkeypatch):
    monkeypatch.setattr(plan_verdict, "more", [])
    plan_verdict.warn(lambda actor, plan: ["The order date has passed."])
    assert "The order date has passed." in warnings(planned)


def test_nobody_approves_what_they_did_not_see(planned):
    seen = digest(content_of(planned.actor, planned.plan))
    p.MixLine.objects.filter(pk=planned.lines[0].pk).update(quantity=301)
    with pytest.raises(Refusal) as refused:
        approve_plan(actor=planned.actor, plan=planned.plan, seen=seen)
    assert refused.value.code == "changed_meanwhile"
    approve_plan(actor=planned.actor, plan=planned.plan, seen=digest(content_of(planned.actor, planned.plan)))


def test_a_command_approves_nothing(planned):
    from projects.access import service_actor

    with pytest.raises(Refusal):
        approve_plan(actor=service_actor(planned.org), plan=planned.plan)


# --- what changed ---------------------------------------------------------------------------------
def test_two_versions_differ_in_lines_allowances_and_sums(planned):
    again = plans.begin_plan(actor=planned.actor, project=planned.project, copy_of=planned.plan)
    again.mix_lines.filter(block=planned.blocks[0]).update(quantity=250)
    again.mix_lines.filter(stock_type="container").delete()
    mixed(again, planned.blocks[1], "fraxinus-excelsior", 40)
    plans.edit_plan(actor=planned.actor, plan=again, slack_weeks=3, season=planned.season)
    again.refresh_from_db()
    found = differences(content_of(planned.actor, planned.plan), content_of(planned.actor, again))
    assert [
        (line.kind, line.block, line.species, line.before, line.after, line.by) for line in found.lines
    ] == [
        (CHANGED, "East", "Quercus robur", 300, 250, -50),
        (GONE, "West", "Acer campestre", 100, None, -100),
        (ADDED, "West", "Fraxinus excelsior", None, 40, 40),
    ]
    assert {each.name: (each.before, each.after) for each in found.allowances}["slack_weeks"] == (2, 3)
    assert {each.name for each in found.allowances} == {"slack_weeks", "season"}
    sums = {each.name: (each.before, each.after) for each in found.totals}
    assert sums["plants"] == (600, 490)
    assert sums["plant_costs"] == ([["EUR", 600 * 55]], [["EUR", 490 * 55]])
    assert sums["living"][0]["mean"] == pytest.approx(480)
    assert sums["effective_species"][0] > sums["effective_species"][1] > 1


def test_a_version_does_not_differ_from_itself(planned):
    content = content_of(planned.actor, planned.plan)
    found = differences(content, json.loads(json.dumps(content)))
    assert found.is_same
    assert all(each.is_same for each in found.totals)


def test_differences_turned_round_are_turned_round(planned):
    again = plans.begin_plan(actor=planned.actor, project=planned.project)
    mixed(again, planned.blocks[0], quantity=90)
    old, new = content_of(planned.actor, planned.plan), content_of(planned.actor, again)
    there, back = differences(old, new), differences(new, old)
    assert [line.by for line in there.lines] == [-line.by for line in back.lines]


# --- pages ----------------------------------------------------------------------------------------
def test_a_plan_is_begun_changed_approved_and_begun_again_in_the_browser(planned, browser):
    page = browser.get(at("project_detail", planned.project)).content.decode()
    assert at("plan_list", planned.project) in page
    begun = browser.post(at("plan_new", planned.project), {"title": "Second", "copy_of": planned.plan.pk})
    plan = p.Plan.objects.get(version=2)
    assert begun.url == at("plan_detail", plan)
    form = browser.get(at("plan_edit", plan)).context["form"]
    fields = {name: form[name].value() or "" for name in form.fields} | {
        "cull_share": "4,5",
        "crew_people": "8",
    }
    assert browser.post(at("plan_edit", plan), fields).status_code == 302
    plan.refresh_from_db()
    assert (plan.cull_share, plan.crew_people) == (0.045, 8)
    page = browser.get(at("plan_approve", plan))
    assert "This forbids it" not in page.content.decode()
    done = browser.post(at("plan_approve", plan), {"seen": page.context["seen"]})
    assert done.url == at("plan_detail", plan)
    page = browser.get(at("plan_detail", plan)).content.decode()
    assert "approved by manager of hill" in page
    assert at("plan_approve", plan) not in page
    refused = browser.post(at("plan_edit", plan), fields)
    assert refused.status_code == 422
    assert "never changes" in refused.content.decode()


def test_a_refused_approval_says_why(planned, browser):
    p.Consent.objects.filter(kind="tenure").delete()
    page = browser.get(at("plan_approve", planned.plan)).content.decode()
    assert "right to the land" in page
    assert "Approve and freeze" not in page
    refused = browser.post(at("plan_approve", planned.plan))
    assert refused.status_code == 422
    assert "Vale is not ready: right to the land" in refused.content.decode()


def test_a_form_with_words_for_a_number_keeps_what_was_typed(planned, browser):
    fields = {"title": "Mine", "assurance": "very", "cull_share": "3", "handling_loss_share": "2", "slack_weeks": "2",
              "crew_people": "six", "trees_per_person_day": "100"}  # fmt: skip
    refused = browser.post(at("plan_edit", planned.plan), fields)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "Write a percentage" in page
    assert "Write a whole number" in page
    assert 'value="very"' in page
    assert 'value="Mine"' in page


def test_versions_are_compared_in_words(planned, browser):
    again = plans.begin_plan(actor=planned.actor, project=planned.project, copy_of=planned.plan)
    again.mix_lines.filter(block=planned.blocks[0]).update(quantity=250)
    page = browser.get(at("plan_compare", again)).content.decode()
    assert "One line of the mix differs" in page
    assert "\u221250" in page
    stranger = Planned(slug="other")
    page = browser.get(at("plan_compare", again), {"with": str(stranger.plan.uid)}).content.decode()
    assert "First try" in page  # an unknown version falls back to the one it was begun from
    assert browser.get(at("plan_compare", again), {"with": "nonsense"}).status_code == 200


def test_each_step_says_what_stands_and_what_is_missing(planned):
    rows = {row.number: row for row in step_rows(planned.actor, frame_of(planned.actor, planned.plan))}
    assert rows[1].state == plan_steps.DONE
    assert rows[2].places[0]["words"] == "not known: the soil"
    assert rows[3].words == "No planting season is chosen yet."
    assert "none is written down" in rows[3].places[1]["words"]
    assert rows[4].words == "600 plants of 2 species in 2 of 2 blocks."
    p.Site.objects.update(emergency_contact="")
    p.Consent.objects.filter(kind="tenure").delete()
    first = step_rows(planned.actor, frame_of(planned.actor, planned.plan))[0]
    assert first.state == plan_steps.STOP
    assert "right to the land" in first.places[0]["words"]
    assert "no emergency number" in first.places[0]["words"]


def test_a_part_may_put_a_better_step_in_the_place_of_another(planned, monkeypatch):
    monkeypatch.setattr(plan_steps, "registered", {})
    step = plan_steps.PlanStep(
        40, "Mine", lambda actor, plan: {"state": plan_steps.OPEN, "words": "w", "url": ""}
    )
    plan_steps.register(step)
    rows = step_rows(planned.actor, frame_of(planned.actor, planned.plan))
    assert [row.title for row in rows][3] == "Mine"
    assert len(rows) == 9


def test_a_plan_of_nothing_shows_every_step(db):
    org = factories.organisation()
    manager = factories.member(org, "manager")
    project = factories.project(org)
    plan = plans.begin_plan(actor=member_actor(manager), project=project)
    rows = step_rows(member_actor(manager), frame_of(member_actor(manager), plan))
    assert [row.state for row in rows].count(plan_steps.DONE) <= 1


def test_pages_cost_the_same_for_two_rows_and_for_twenty(planned, browser):
    def counts():
        found = {}
        for name, row in (("plan_list", planned.project), ("plan_detail", planned.plan),
                          ("plan_approve", planned.plan), ("plan_compare", planned.plan)):  # fmt: skip
            with CaptureQueriesContext(connection) as asked:
                assert browser.get(at(name, row)).status_code == 200
            found[name] = len(asked)
        return found

    def grow(number):
        for n in range(number):
            site = ready_site(planned.org, name=f"Site {n} {number}")
            block = factories.block(planned.org, planned.project, site)
            mixed(planned.plan, block, f"species-{n}", 10)
            p.PlantingWindow.objects.create(
                organisation=planned.org, block=block, stock_type="bare_root", opens_on=date(2030, 1, 1),
                closes_on=date(2030, 2, 1),
            )  # fmt: skip
            p.SoilSample.objects.create(
                organisation=planned.org, site=site, label="A", taken_on=date(2024, 1, 1)
            )
            plans.begin_plan(actor=planned.actor, project=planned.project)

    grow(1)
    browser.get(at("plan_detail", planned.plan))
    few = counts()
    grow(18)
    assert counts() == few


# --- what follows from the mix --------------------------------------------------------------------
def offered(planned, line, **fields):
    nursery = p.Nursery.objects.create(
        organisation=planned.org, name="Alto", lead_time_weeks=fields.pop("weeks", 1)
    )
    values = {"unit_price_minor": 50, "currency": "EUR", **fields}
    return p.StockOffer.objects.create(
        organisation=planned.org, nursery=nursery, species=line.species, stock_type=line.stock_type, **values
    )


def test_orders_in_the_papers_add_what_is_lost_on_the_way(planned):
    """500 planted, 3 % culled, 2 % lost in handling: 500 / (0.97 · 0.98) = 525.98, so 526."""
    offered(planned, planned.lines[0])
    content = content_of(planned.actor, planned.plan)
    oak = next(row for row in content["orders"] if row["species"] == "Quercus robur")
    assert (oak["plants"], oak["wanted"]) == (500, 526)
    assert [(part["nursery"], part["quantity"], part["cost_minor"]) for part in oak["parts"]] == [
        ("Alto", 526, 26300)
    ]
    maple = next(row for row in content["orders"] if row["species"] == "Acer campestre")
    assert maple["parts"][0]["nursery"] == ""


def test_an_order_that_comes_too_late_is_told_at_the_step_and_before_approval(planned):
    plans.edit_plan(actor=planned.actor, plan=planned.plan, season=planned.season)
    planned.plan.refresh_from_db()
    for line in planned.lines[1:]:
        offered(planned, line, weeks=30)
    assert "Quercus robur had to be ordered by" in warnings(planned)
    rows = step_rows(planned.actor, frame_of(planned.actor, planned.plan))
    assert "the first had to be placed by" in rows[4].words
    p.Nursery.objects.update(lead_time_weeks=0)
    plans.edit_plan(actor=planned.actor, plan=planned.plan, slack_weeks=0)
    planned.plan.refresh_from_db()
    assert "had to be ordered" not in warnings(planned)
    assert (
        "the first must be placed by"
        in step_rows(planned.actor, frame_of(planned.actor, planned.plan))[4].words
    )


def test_what_was_ordered_is_not_asked_for_any_more_while_a_draft_still_is(planned):
    plans.edit_plan(actor=planned.actor, plan=planned.plan, season=planned.season)
    planned.plan.refresh_from_db()
    oak = planned.lines[0]
    offered(planned, oak, weeks=30)
    figures = {"plan": str(planned.plan.uid), "wave": 1}
    order = p.StockOrder.objects.create(
        organisation=planned.org, project=planned.plan.project, copied_figures=figures
    )
    line = p.OrderLine.objects.create(
        organisation=planned.org, order=order, species=oak.species, stock_type=oak.stock_type, quantity=526
    )
    told = "Quercus robur had to be ordered by"
    assert told in warnings(planned)
    p.StockOrder.objects.update(status="placed")
    assert told not in warnings(planned)
    p.OrderLine.objects.filter(pk=line.pk).update(quantity=525)  # one fewer than the plan needs
    assert told in warnings(planned)


def test_a_block_that_will_fall_short_is_told(planned):
    p.Project.objects.update(target_stocking_per_ha=560)  # 280 living of 300 planted at 80 %
    planned.plan.project.refresh_from_db()
    assert "East reaches its living trees with a chance of" in warnings(planned)
    east = next(row for row in content_of(planned.actor, planned.plan)["blocks"] if row["name"] == "East")
    assert east["chance"]["target"] == 280
    assert east["chance"]["chance"] < 0.2
    assert east["chance"]["n_assured"] > 350
    p.Project.objects.update(target_stocking_per_ha=100)
    planned.plan.project.refresh_from_db()
    assert "East reaches" not in warnings(planned)


def test_the_crews_days_are_whole_days_of_the_whole_crew(planned):
    plans.edit_plan(actor=planned.actor, plan=planned.plan, crew_people=2, trees_per_person_day=140)
    planned.plan.refresh_from_db()
    crew = content_of(planned.actor, planned.plan)["crew"]
    assert [(row["plants"], row["days"]) for row in crew["rows"]] == [(300, 2), (300, 2)]
    assert (crew["plants"], crew["days"]) == (600, 3)
    assert crew["person_days"] == pytest.approx(600 / 140, abs=1e-6)


def test_carbon_is_there_only_for_a_site_whose_zone_was_chosen(planned):
    assert content_of(planned.actor, planned.plan)["carbon"] is None
    p.Site.objects.update(ecological_zone="temperate_oceanic")
    (found,) = content_of(planned.actor, planned.plan)["carbon"]
    assert "not a promise" in " ".join(found["words"])
    assert "carbon verifier" in " ".join(found["words"])


def test_the_best_week_lies_inside_the_window_it_belongs_to(planned):
    content = content_of(planned.actor, planned.plan)
    (window,) = next(row for row in content["blocks"] if row["name"] == "East")["windows"]
    assert window["closes_because"] == "buds swell"
    if window["best_on"]:
        last = date.fromisoformat(window["closes_on"]) - timedelta(days=6)
        assert window["opens_on"] <= window["best_on"] <= last.isoformat()


def test_the_word_on_a_region_outranks_the_word_on_its_country(planned):
    p.Site.objects.update(region="North")
    species = planned.lines[0].species
    row = RangeStatus.objects.create(
        species=species, country_code="PT", region="North", status="invasive", source="t"
    )
    assert len(forbidding(planned)) == 2
    RangeStatus.objects.filter(pk=row.pk).update(region="South")
    assert forbidding(planned) == []


def test_a_broken_rule_of_the_mix_is_told_and_does_not_forbid(planned):
    p.Plan.objects.update(mix_rules={"most_of_species": 0.5})
    planned.plan.refresh_from_db()
    assert "East breaks a rule of the mix: one species takes too large a share." in warnings(planned)
    assert forbidding(planned) == []
    p.Plan.objects.update(mix_rules={"most_of_species": 1})
    planned.plan.refresh_from_db()
    assert "one species takes too large" not in warnings(planned)
