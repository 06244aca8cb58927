"""The mix of a plan: choices and what is left out, the search as a job, hand edits, and two people at once."""

import json
import time

import pytest
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.errors import Refusal
from projects.models import HistoryEntry, Job, MixLine, Nursery, Plan, ProjectPurpose, StockOffer
from projects.selectors.mix_choices import choices_of
from projects.selectors.mix_page import MixFacts
from projects.selectors.mix_question import question_of
from projects.selectors.mix_rules import PlanRules, rules_of
from projects.selectors.plans import frame_of
from projects.services import jobs, mix_search, mixes
from projects.services.editing import ChangedMeanwhile
from species.models import RangeStatus, SpeciesTrait
from tests import factories

pytestmark = pytest.mark.django_db

KINDS = {  # slug: (fixes nitrogen, shade class, roles, price)
    "alnus-glutinosa": (True, "light_demander", ["nurse"], 60),
    "betula-pendula": (False, "light_demander", [], 50),
    "quercus-robur": (False, "intermediate", ["main"], 90),
    "fagus-sylvatica": (False, "shade_bearer", ["main"], 120),
}


def fact(species, trait, words):
    SpeciesTrait.objects.create(
        species=species, trait=trait, value_text=words, basis="literature", source="invented for a test"
    )


def status(species, word, country="PT"):
    RangeStatus.objects.create(species=species, country_code=country, status=word, source="invented")


@pytest.fixture
def kinds(hill, site, block):
    """Four species that fit the block's light and are on offer."""
    from projects.models import SiteAssessment

    SiteAssessment.objects.create(organisation=hill, site=site, light="full_sun")
    nursery = Nursery.objects.create(organisation=hill, name="Alto")
    found = {}
    for slug, (fixes, shade, roles, price) in KINDS.items():
        row = factories.species(slug, is_nitrogen_fixer=fixes, shade_class=shade)
        row.genus, row.family = slug.split("-")[0], f"{slug[0]}-aceae"
        row.is_nitrogen_fixer, row.shade_class = fixes, shade
        row.save()
        fact(row, "light", "full_sun")
        if roles:
            fact(row, "roles", roles[0])
        status(row, "native")
        StockOffer.objects.create(
            organisation=hill, nursery=nursery, species=row, stock_type="container", unit_price_minor=price
        )
        found[slug.split("-")[0]] = row
    return found


@pytest.fixture
def plan(hill, project):
    return Plan.objects.create(organisation=hill, project=project, version=1)


@pytest.fixture
def read(actor, plan):
    """Choices under some rules."""

    def choices(**rules):
        return choices_of(plan, frame_of(actor, plan), PlanRules(**rules))

    return choices


def url(name, plan, **more):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": plan.uid, **more})


def why(choices, species):
    return {row.why for row in choices.left_out if row.species == species}


def search(actor, plan, **rules):
    """Set rules, search, and return the job when it is over."""
    mixes.set_rules(actor=actor, plan=plan, rules=PlanRules(seconds=20, **rules))
    job = mix_search.start(actor=actor, plan=plan)
    jobs.work_through()
    job.refresh_from_db()
    return job


# --- choices ------------------------------------------------------------------------------------
def test_what_fits_and_is_on_offer_may_be_planted(read, kinds, block):
    found = read()
    assert {row.species for row in found.candidates} == set(kinds.values())
    assert found.spots == {block.pk: 4000}  # 2 ha at 2.5 m by 2 m
    nurses = {row.species.genus: row.is_nurse for row in found.candidates}
    assert nurses == {"alnus": True, "betula": True, "quercus": False, "fagus": False}


def test_each_reason_to_leave_out_is_told(read, kinds, hill, project):
    status(kinds["alnus"], "invasive", "ES")
    RangeStatus.objects.filter(species=kinds["alnus"]).update(status="invasive")
    RangeStatus.objects.filter(species=kinds["betula"]).update(status="introduced")
    SpeciesTrait.objects.filter(species=kinds["quercus"], trait="light").update(value_text="shade")
    StockOffer.objects.filter(species=kinds["fagus"]).update(currency="USD")
    found = read()
    assert why(found, kinds["alnus"]) == {"invasive"}
    assert why(found, kinds["betula"]) == {"no_reason"}
    assert why(found, kinds["quercus"]) == {"unfit"}
    assert why(found, kinds["fagus"]) == {"other_currency"}
    with_reason = read(reasons={str(kinds["betula"].pk): "seed from a warmer place"})
    assert [row.species for row in with_reason.candidates] == [kinds["betula"]]


def test_sown_seed_without_a_stated_survival_is_left_out(read, kinds):
    StockOffer.objects.filter(species=kinds["betula"]).update(stock_type="direct_seed")
    assert why(read(), kinds["betula"]) == {"no_survival"}


def test_a_stock_type_without_a_window_is_left_out(read, kinds, site):
    site.climate_normals = {  # always frozen ground
        "mean_minimum_c": [-30.0] * 12, "mean_maximum_c": [-15.0] * 12, "rain_mm": [40.0] * 12,
    }  # fmt: skip
    site.boundary = factories.SQUARE
    site.save()
    for species in kinds.values():
        assert "no_window" in why(read(), species)


def test_holdings_count_the_trees_they_received(read, kinds, block, hill):
    from projects.models import Holding

    block.layout = "holdings"
    block.save()
    for n in (20, 35):
        Holding.objects.create(organisation=hill, block=block, label=f"farm {n}", trees_received=n)
    assert read().spots == {block.pk: 55}


def test_spots_can_be_stated_where_spacing_does_not_tell(read, kinds, block):
    block.pattern = "row"
    block.save()
    assert read().spots == {block.pk: None}
    assert read(spots={str(block.uid): 120}).spots == {block.pk: 120}


def test_spare_plants_are_bought_and_counted(plan, read, kinds):
    StockOffer.objects.filter(species=kinds["alnus"]).update(on_offer=1000, least_quantity=100)
    asked = question_of(plan, read(), PlanRules())
    spare = 1 / (0.97 * 0.98)
    lot = (str(kinds["alnus"].pk), "container")
    assert asked.rules.on_offer == {lot: int(1000 / spare)}
    assert asked.rules.lot_size == {lot: 96}
    assert sorted(o.price for o in asked.options) == pytest.approx([n * spare for n in (50, 60, 90, 120)])


def test_purposes_weigh_and_the_unknown_counts_half(plan, read, kinds, hill, project):
    ProjectPurpose.objects.create(organisation=hill, project=project, use="soil", weight=3)
    fact(kinds["alnus"], "uses", "soil")
    fact(kinds["quercus"], "uses", "timber")
    worths = {
        each.species.genus: option.worth
        for asked in [question_of(plan, read(), PlanRules())]
        for each, option in zip(asked.candidates, asked.options, strict=True)
    }
    assert worths == {"alnus": 1.0, "quercus": 0.0, "betula": 0.5, "fagus": 0.5}


@pytest.mark.parametrize("reader", ["choices", "page"])
def test_queries_do_not_grow_with_blocks(actor, plan, kinds, project, site, hill, reader):
    def queries():
        with CaptureQueriesContext(connection) as seen:
            frame = frame_of(actor, plan)
            if reader == "choices":
                choices_of(plan, frame, PlanRules())
            else:
                MixFacts(plan, frame).page()
        return len(seen)

    def fill(n):
        for _n in range(n):
            block = factories.block(hill, project, site)
            MixLine.objects.create(
                organisation=hill, plan=plan, block=block, species=kinds["alnus"], stock_type="container",
                quantity=9,
            )  # fmt: skip

    fill(1)
    few = queries()
    fill(18)
    assert queries() == few


# --- the search ---------------------------------------------------------------------------------
def test_the_best_mix_is_searched_and_written_with_what_was_believed(actor, plan, kinds, block):
    job = search(actor, plan)
    assert (job.state, job.result["status"], job.result["taken"]) == ("done", "optimal", True)
    lines = list(MixLine.objects.filter(plan=plan))
    assert sum(line.quantity for line in lines) == 4000
    assert len({line.species_id for line in lines}) >= 3
    assert max(line.quantity for line in lines) <= 0.4 * 4000
    assert {line.survival_mean for line in lines} == {0.75}
    assert {line.survival_source for line in lines} == {"common practice"}
    assert HistoryEntry.objects.filter(verb="plan.mix_found", subject_uid=plan.uid).count() == 1
    page = MixFacts(plan, frame_of(actor, plan)).page()
    assert not any(each.broken for each in page.blocks)
    assert job.result["living"] == pytest.approx(3000)


def test_two_waves_wait_for_nurses(actor, plan, kinds, hill, project):
    ProjectPurpose.objects.create(organisation=hill, project=project, use="timber", weight=1)
    fact(kinds["fagus"], "uses", "timber")
    search(actor, plan, two_waves=True, least_of_nurses=0.5, most_in_second_wave=0.25, most_of_species=None)
    lines = {line.species.genus: line for line in MixLine.objects.filter(plan=plan).select_related("species")}
    assert (lines["fagus"].wave, lines["fagus"].quantity) == (2, 1000)
    first = [line for line in lines.values() if line.wave == 1]
    nurses = sum(line.quantity for line in first if line.species.genus in ("alnus", "betula"))
    assert nurses >= 0.5 * sum(line.quantity for line in first)


def test_a_contradiction_is_named_and_nothing_is_touched(actor, plan, kinds, block, signed_in, ana):
    job = search(actor, plan, budget_minor=100_000)
    assert job.result["status"] == "infeasible"
    assert set(job.result["ways_out"]) == {"budget", "least_planted"}
    assert not MixLine.objects.filter(plan=plan).exists()
    page = signed_in(ana).get(url("plan_mix", plan)).content.decode()
    assert "Give up one of these" in page
    assert 'href="#rule-budget"' in page
    assert 'id="rule-budget"' in page


def test_with_nothing_to_plant_the_search_says_so(actor, plan, block):
    job = search(actor, plan)
    assert job.state == "failed"
    assert "Nothing may be planted" in job.result["message"]


def test_a_plan_changed_meanwhile_keeps_its_lines_and_is_offered_the_mix(
    actor, plan, kinds, block, signed_in, ana
):
    mixes.set_rules(actor=actor, plan=plan, rules=PlanRules(seconds=20))
    job = mix_search.start(actor=actor, plan=plan)
    line = mixes.add_line(
        actor=actor, plan=plan, block=block, species=kinds["alnus"], stock_type="container", quantity=7
    )
    jobs.work_through()
    job.refresh_from_db()
    assert job.result["taken"] is False
    assert [row.pk for row in MixLine.objects.filter(plan=plan)] == [line.pk]
    desk = signed_in(ana)
    assert "Take this mix over" in desk.get(url("plan_mix", plan)).content.decode()
    desk.post(url("plan_mix_take", plan))
    assert sum(MixLine.objects.filter(plan=plan).values_list("quantity", flat=True)) == 4000


def test_a_plan_approved_meanwhile_is_never_touched(actor, ana, plan, kinds, block):
    job = mix_search.start(actor=actor, plan=plan)
    Plan.objects.update(approved_at="2026-11-01T10:00Z", approved_by=ana.person)
    assert not Plan.objects.get().is_draft
    jobs.work_through()
    job.refresh_from_db()
    assert not Plan.objects.get().is_draft, job.result
    assert "never changes" in job.result["message"]
    assert not MixLine.objects.exists()
    with pytest.raises(Refusal, match="never changes"):
        mixes.take_over(actor=actor, plan=plan, job=job)


def test_a_worker_that_lost_its_job_writes_nothing(actor, plan, kinds, monkeypatch):
    real = mix_search.mixes_as_found

    def while_another_takes_it(*args):
        yield from real(*args)
        Job.objects.update(attempts=F("attempts") + 1)

    monkeypatch.setattr(mix_search, "mixes_as_found", while_another_takes_it)
    assert search(actor, plan).state == "running"  # as the other left it
    assert not MixLine.objects.exists()


def test_a_second_search_does_not_begin_beside_the_first(actor, plan, kinds):
    assert mix_search.start(actor=actor, plan=plan) == mix_search.start(actor=actor, plan=plan)
    assert Job.objects.count() == 1


def test_calling_off_ends_the_solver_with_the_search(actor, plan, kinds, monkeypatch):
    started = []
    real = mix_search.subprocess.Popen

    def slow(arguments, **options):
        code = "import time; time.sleep(60)"
        child = real([arguments[0], "-c", code], **options)
        started.append(child)
        jobs.cancel(actor=actor, job=Job.objects.get())
        return child

    monkeypatch.setattr(mix_search.subprocess, "Popen", slow)
    begun = time.monotonic()
    job = search(actor, plan)
    assert time.monotonic() - begun < 20
    assert job.state == "cancelled"
    assert started[0].poll() is not None
    assert not MixLine.objects.exists()


def test_a_solver_that_breaks_is_tried_again(actor, plan, kinds, monkeypatch):
    real = mix_search.subprocess.Popen
    monkeypatch.setattr(
        mix_search.subprocess, "Popen",
        lambda arguments, **options: real([arguments[0], "-c", "import sys; sys.stdin.read(); sys.exit(3)"], **options),
    )  # fmt: skip
    assert search(actor, plan).state == "waiting"


# --- by hand ------------------------------------------------------------------------------------
@pytest.fixture
def line(actor, plan, kinds, block):
    return mixes.add_line(
        actor=actor, plan=plan, block=block, species=kinds["quercus"], stock_type="container", quantity=100,
        unit_price_minor=90,
    )  # fmt: skip


def test_what_may_not_be_planted_is_refused_by_hand_too(actor, plan, kinds, block, line):
    def add(**more):
        values = {"species": kinds["alnus"], "stock_type": "container", "quantity": 5, **more}
        return mixes.add_line(actor=actor, plan=plan, block=block, **values)

    RangeStatus.objects.filter(species=kinds["alnus"]).update(status="invasive")
    with pytest.raises(Refusal, match="invasive"):
        add()
    RangeStatus.objects.filter(species=kinds["alnus"]).update(status="introduced")
    with pytest.raises(Refusal, match="Write down why"):
        add()
    assert add(introduced_reason="asked for by the village").introduced_reason
    with pytest.raises(Refusal, match="4000 planting spots"):
        add(species=kinds["betula"], quantity=3896)
    with pytest.raises(Refusal, match="already"):
        add(species=kinds["quercus"])


def test_the_unwise_is_stored_and_named(actor, plan, block, line):
    mixes.edit_block(actor=actor, plan=plan, block=block, **{f"q_{line.pk}": 3000})
    seen = MixFacts(plan, frame_of(actor, plan)).page().blocks[0]
    assert {rule.kind for rule in seen.broken} == {"least_planted", "most_of_species", "species_number"}


def test_a_block_never_gets_more_than_its_spots(actor, plan, block, line):
    with pytest.raises(Refusal, match="needs 4001"):
        mixes.edit_block(actor=actor, plan=plan, block=block, **{f"q_{line.pk}": 4001})
    mixes.edit_block(actor=actor, plan=plan, block=block, **{f"q_{line.pk}": 0})
    assert not MixLine.objects.exists()


def test_two_people_who_change_one_block_see_both_versions(actor, plan, block, line):
    opened = mixes.lines_token([line])
    mixes.edit_block(actor=actor, plan=plan, block=block, version=opened, **{f"q_{line.pk}": 50})
    with pytest.raises(ChangedMeanwhile) as refused:
        mixes.edit_block(actor=actor, plan=plan, block=block, version=opened, **{f"q_{line.pk}": 60})
    assert refused.value.stored == {f"q_{line.pk}": 50}
    line.refresh_from_db()
    assert line.quantity == 50


def test_sums_of_a_line(actor, plan, block, line):
    seen = MixFacts(plan, frame_of(actor, plan)).page().blocks[0]
    assert seen.sums.cost_minor == round(100 * 90 / (0.97 * 0.98))
    assert seen.sums.living.mean == pytest.approx(75)
    assert seen.sums.living.low < 60 < 90 < seen.sums.living.high
    assert (seen.sums.variety.species, seen.sums.nitrogen_share, seen.sums.nurse_share) == (1, 0.0, 0.0)


# --- pages --------------------------------------------------------------------------------------
def rules_data(**more):
    values = {
        "aim": "most_worth", "least_planted": "90", "most_of_species": "40", "least_species": "3",
        "least_when_used": "5", "years_later": "3", "least_of_nurses": "30", "most_in_second_wave": "40",
        "seconds": "20",
    }  # fmt: skip
    return values | more


def test_rules_are_written_as_sentences_and_kept(signed_in, ana, plan, kinds, block):
    desk = signed_in(ana)
    page = desk.get(url("plan_mix", plan)).content.decode()
    assert "of a block is of one species" in page
    assert (
        desk.post(url("plan_mix", plan), rules_data(budget="1200,50", most_of_genus="50")).status_code == 302
    )
    plan.refresh_from_db()
    rules = rules_of(plan)
    assert (rules.budget_minor, rules.most_of_genus, rules.most_of_species) == (120_050, 0.5, 0.4)
    assert 'value="1200.50"' in desk.get(url("plan_mix", plan)).content.decode()


def test_the_street_preset_is_only_applied_when_asked_for(signed_in, ana, plan, kinds):
    assert rules_of(plan).most_of_genus is None
    signed_in(ana).post(url("plan_mix", plan), rules_data(preset="yes"))
    plan.refresh_from_db()
    rules = rules_of(plan)
    assert (rules.most_of_species, rules.most_of_genus, rules.most_of_family) == (0.1, 0.2, 0.3)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"budget": "a lot"}, "Write an amount such as 12.50"),
        ({"most_of_species": "140"}, "A percentage lies between 0 and 100."),
        ({"least_species": "three"}, "Write a whole number in digits"),
        ({"aim": "least_cost"}, "Write how many living trees are wanted"),
    ],
)
def test_a_number_that_cannot_be_gets_its_own_words_and_nothing_typed_is_lost(
    signed_in, ana, plan, kinds, wrong, words
):
    answer = signed_in(ana).post(
        url("plan_mix", plan), rules_data(**wrong, living_wanted="", most_of_genus="35")
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert 'value="35"' in page


def test_the_page_starts_a_search_and_shows_it_going_on(signed_in, ana, plan, kinds):
    desk = signed_in(ana)
    desk.post(url("plan_mix", plan), rules_data(search="yes"))
    page = desk.get(url("plan_mix", plan)).content.decode()
    assert "Waiting for its turn" in page
    assert "Call it off" in page
    piece = desk.get(url("plan_mix", plan), headers={"HX-Request": "true"})
    assert "<h1>" not in piece.content.decode()
    jobs.work_through()
    over = desk.get(url("plan_mix", plan), headers={"HX-Request": "true"})
    assert over.headers["HX-Refresh"] == "true"
    page = desk.get(url("plan_mix", plan)).content.decode()
    assert "The mix is in the plan" in page


def test_numbers_are_changed_looked_at_and_refused_on_the_page(signed_in, ana, plan, block, line):
    desk, field = signed_in(ana), f"q_{line.pk}"
    sums = desk.post(url("plan_mix_sums", plan, block=block.uid), {field: "3900"}).content.decode()
    assert "one species takes too large a share" in sums
    assert "3 900" in sums.replace("\u202f", " ").replace("\xa0", " ") or "3,900" in sums
    line.refresh_from_db()
    assert line.quantity == 100
    answer = desk.post(url("plan_mix_block", plan, block=block.uid), {field: "5000"})
    assert answer.status_code == 422
    assert 'value="5000"' in answer.content.decode()
    assert desk.post(url("plan_mix_block", plan, block=block.uid), {field: "200"}).status_code == 302
    line.refresh_from_db()
    assert line.quantity == 200


def test_a_line_is_put_in_by_the_form(signed_in, ana, plan, block, kinds):
    data = {"block": block.pk, "species": kinds["betula"].pk, "stock_type": "bare_root", "wave": "1",
            "quantity": "40", "unit_price": "0.55", "currency": "EUR"}  # fmt: skip
    assert signed_in(ana).post(url("plan_mix_line", plan), data).status_code == 302
    made = MixLine.objects.get()
    assert (made.quantity, made.unit_price_minor, made.survival_mean) == (40, 55, 0.7)


def test_a_lead_sees_the_mix_and_changes_nothing(signed_in, ben, plan, line):
    page = signed_in(ben).get(url("plan_mix", plan)).content.decode()
    assert "Quercus robur" in page
    assert "Find the best mix" not in page
    assert signed_in(ben).post(url("plan_mix", plan), rules_data()).status_code == 403


def test_what_a_job_keeps_is_plain_json(actor, plan, kinds):
    job = search(actor, plan)
    assert json.loads(json.dumps(job.result)) == job.result
