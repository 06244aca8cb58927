"""Every address × every role: who gets in, who is told no, and that strangers are told nothing."""

from datetime import date
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from monitoring import models as m
from monitoring.services import drain, sharing, summaries
from projects import models as p
from projects import policy
from projects.access import field_pass_actor, member_actor
from projects.models import HistoryEntry, Job, Reminder
from projects.services import log
from tests import factories
from tests.access.growing import PARTS as GROWING
from tests.access.planning import PARTS as PLANNING
from tests.access.policy_table import OPEN, OUTSIDE, POLICY
from tests.field_log.visits import item, line, visit_body

CANARY = "CANARYB912873"
LETTERS = {"m": "manager", "l": "field_lead", "v": "volunteer", "f": "funder"}
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def named_patterns(resolver: URLResolver, prefix: str = "", kwargs: tuple = ()) -> dict[str, tuple[str, ...]]:
    """Return {full url name: names of its parameters} for pages; the API has a matrix of its own."""
    found: dict[str, tuple[str, ...]] = {}
    for pattern in resolver.url_patterns:
        here = kwargs + tuple(pattern.pattern.converters)
        if isinstance(pattern, URLResolver):
            namespace = f"{prefix}{pattern.namespace}:" if pattern.namespace else prefix
            if pattern.namespace != "api":
                found |= named_patterns(pattern, namespace, here)
        elif isinstance(pattern, URLPattern):
            found[f"{prefix}{pattern.name}"] = here
    return found


PAGES = named_patterns(get_resolver())
CHECKED = {name: here for name, here in PAGES.items() if not any(name.startswith(out) for out in OUTSIDE)}


def test_every_address_has_a_row_and_every_row_an_address():
    rows = {name for name, _method in POLICY}
    assert not sorted(set(CHECKED) - rows), "addresses without a policy row"
    assert not sorted(rows - set(CHECKED)), "policy rows without an address"


def test_every_verb_of_the_policy_names_known_roles_and_is_used():
    known = set(LETTERS.values())
    assert all(roles and {str(role.value) for role in roles} <= known for roles in policy.VERBS.values())


class World:
    """One row of everything in one organisation, each findable by the name of a url parameter."""

    def __init__(self, slug: str, text: str) -> None:
        self.found: tuple[dict[str, Any], dict[str, Any]] | None = None
        self.org = factories.organisation(slug, name=f"{text} group")
        oak = factories.species("quercus-robur")
        self.project = factories.project(self.org, name=f"{text} project")
        self.site = factories.site(self.org, name=f"{text} site")
        self.block = factories.block(self.org, self.project, self.site, name=f"{text} block")
        self.lot = factories.lot(self.org, oak, code=f"{text}-1")
        self.season = factories.season(self.org, "planting", label=f"{text} winter", year=2024)
        self.cohort = factories.cohort(self.block, self.lot, self.season)
        self.plots = [factories.plot(self.block, f"{text}-{n}") for n in range(2)]
        self.baselines = [factories.baseline(plot, oak, cohort=self.cohort) for plot in self.plots]
        self.round = factories.survey_round(self.project, self.plots, name=f"{text} round")
        self.draw = factories.plot_draw(self.block)
        self.cause = m.LossCause.objects.create(
            organisation=self.org, round=self.round, block=self.block, cause="frost", note=f"{text} frost",
            assigned_on=date(2025, 11, 2),
        )  # fmt: skip
        self.field_pass = factories.field_pass(self.round, secret=slug)
        self.members = {
            role: factories.member(
                self.org, role, projects=[self.project] if role in ("volunteer", "funder") else []
            )
            for role in LETTERS.values()
        }
        self.more(text)
        self.plan = p.Plan.objects.create(organisation=self.org, project=self.project, version=1)
        for part in (*PLANNING, *GROWING):
            part.more(self, text)

    def more(self, text: str) -> None:
        self.holding = p.Holding.objects.create(
            organisation=self.org, block=self.block, label=f"{text} farm", trees_received=20
        )
        self.movement = p.LotMovement.objects.create(
            organisation=self.org, lot=self.lot, kind="culled", quantity=1, moved_on=date(2024, 2, 3)
        )
        self.care = p.CareTask.objects.create(
            organisation=self.org, block=self.block, kind="weeding", what=f"{text} weeding"
        )
        self.budget_line = p.BudgetLine.objects.create(
            organisation=self.org, project=self.project, what=f"{text} plants"
        )
        self.window = p.PlantingWindow.objects.create(
            organisation=self.org, block=self.block, stock_type="container",
            opens_on=date(2026, 11, 1), closes_on=date(2027, 2, 1),
        )  # fmt: skip
        self.assessed(text)
        self.order = p.StockOrder.objects.create(organisation=self.org, project=self.project, reference=text)
        self.job = Job.objects.create(organisation=self.org, kind="upload", title=f"{text} job")
        self.reminder = Reminder.objects.create(
            organisation=self.org, kind="lot_gap", subject_uid=self.lot.uid, project=self.project, link="/",
            facts={"lot": f"{text}-1", "gap": 3, "received": 1000},
        )  # fmt: skip
        self.history = HistoryEntry.objects.create(
            organisation=self.org, verb="site.edited", subject_kind="site", subject_uid=self.site.uid,
            subject_label=f"{text} site", actor_label="manager",
        )  # fmt: skip
        actor = member_actor(self.members["manager"])
        log.append_items(actor, [item(visit_body(self.plots[0], self.round, [line(self.baselines[0], 25)]))])
        broken = item({**visit_body(self.plots[0], self.round), "plot": "nowhere", "note": text})
        log.append_items(field_pass_actor(self.field_pass, frozenset({self.project.pk})), [broken])
        self.refused = p.RefusedItem.objects.get(organisation=self.org)
        self.results(text)

    def assessed(self, text: str) -> None:
        """One row of everything an assessment finds."""
        here = {"organisation": self.org, "site": self.site}
        self.soil = p.SoilSample.objects.create(
            **here, block=self.block, label=text, taken_on=date(2024, 1, 5)
        )
        self.circle = p.RegenerationCircle.objects.create(
            **here, block=self.block, label=text, counted_on=date(2024, 1, 5), radius_m=5, count=3
        )
        self.consent = p.Consent.objects.create(
            **here, kind="permit", with_whom=f"{text} office", what=text, given_on=date(2024, 1, 5)
        )
        self.override = p.ReadinessOverride.objects.create(
            **here, stop="peat", reason=text, approved_at="2024-01-05T12:00Z",
            approved_by=self.members["manager"].person,
        )  # fmt: skip

    def results(self, text: str) -> None:
        """A season summary, its share link and an upload."""
        actor = member_actor(self.members["manager"])
        drain.work_through()
        self.curve = m.SurvivalCurve.objects.filter(organisation=self.org, scope="cohort").get()
        self.summary = summaries.make_summary(actor=actor, project=self.project, season=self.round.season)
        sharing.share(actor=actor, summary=self.summary, label=text)
        self.link = p.ShareLink.objects.get(organisation=self.org)
        self.upload = m.Upload.objects.create(
            organisation=self.org, project=self.project, round=self.round, file_name=f"{text}.csv",
            file_sha256="0" * 64, content=b"plot,species,alive",
        )  # fmt: skip

    def kwargs(self, name: str, *, anew: bool = False) -> dict[str, Any]:
        """Return the parameters of an address, pointing at this world's rows.

        The rows are looked up once, unless requests before may have taken some away: then `anew`.
        """
        if anew or self.found is None:
            self.found = self.look_up()
        rows, nouns = self.found
        noun = name.split(":")[1].rsplit("_", 1)[0]
        values: dict[str, Any] = {"org": self.org.slug, "slug": "quercus-robur", "round": self.round.uid}
        values |= {
            "name": "survival",
            "kind": "survival",
            "step": "land",
            "fact": "rain",
            "block": self.block.uid,
        }
        row = rows.get(name) or nouns.get(noun)
        values["uid"] = self.site.uid if name == "projects:history" else row.uid if row else uuid4()
        return {key: values[key] for key in PAGES[name]}

    def look_up(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return rows by full name of an address, and by its noun."""
        rows = {
            "projects:soil_list": self.site, "projects:soil_new": self.site, "projects:circle_list": self.site,
            "projects:circle_new": self.site, "projects:consent_list": self.site, "projects:consent_new": self.site,
            "projects:override_new": self.site, "projects:assessment": self.site,
            "projects:block_new": self.site, "projects:holding_new": self.block,
            "projects:species_chooser": self.block, "projects:windows_keep": self.block,
            "projects:window_new": self.block,
            "projects:budget_line_new": self.project,
            "projects:planting_day_new": self.block, "monitoring:plot_new": self.block,
            "monitoring:baseline_set": self.plots[0], "monitoring:sheet_print": self.round,
            "monitoring:desk_entry": self.plots[0], "monitoring:compare": self.round,
            "monitoring:curve_chart": self.curve, "monitoring:survival_over_time": self.project,
            "monitoring:round_chart": self.round, "monitoring:summary_chart": self.summary,
            "monitoring:summary_share": self.summary, "monitoring:upload_new": self.round,
            "monitoring:upload_template": self.round, "monitoring:round_cards": self.round,
            "monitoring:second_stage": self.round, "monitoring:survey_design": self.project,
            "monitoring:design_chart": self.project, "monitoring:plot_draw_new": self.block,
            "monitoring:plot_draw_detail": self.draw, "monitoring:draw_cards": self.draw,
            "monitoring:loss_causes": self.block, "monitoring:cause_withdraw": self.cause,
        }  # fmt: skip
        nouns = {
            "assessment": self.site, "soil": self.soil, "circle": self.circle, "consent": self.consent,
            "override": self.override,
            "person": self.members["volunteer"], "reminder": self.reminder, "site": self.site,
            "project": self.project, "block": self.block, "holding": self.holding, "season": self.season,
            "nursery": self.lot.nursery, "lot": self.lot, "movement": self.movement,
            "planting_day": self.cohort.planting_days.get(), "cohort": self.cohort, "order": self.order,
            "care": self.care, "window": self.window, "budget_line": self.budget_line, "refused": self.refused,
            "job": self.job, "round": self.round, "plot": self.plots[0], "pass": self.field_pass,
            "case": self.case(), "summary": self.summary, "link": self.link, "upload": self.upload,
        }  # fmt: skip
        for part in (*PLANNING, *GROWING):
            rows |= part.rows(self)
            nouns |= part.nouns(self)
        return rows, nouns

    def case(self) -> Any:
        return m.Case.objects.filter(organisation=self.org).first()


@pytest.fixture
def world(db) -> World:
    return World("hill", "Hilltop")


@pytest.fixture
def stranger(db) -> World:
    return World("other", CANARY)


def client_of(membership: Any) -> Client:
    client = Client(raise_request_exception=True)
    client.force_login(membership.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client


ROWS = sorted(POLICY)


@pytest.mark.django_db
@pytest.mark.parametrize("role", LETTERS.values())
def test_each_role_gets_in_where_the_table_says_and_nowhere_else(world, role):
    letter, wrong = role_letter(role), []
    client = client_of(world.members[role])
    for name, method in ROWS:
        allowed = POLICY[name, method]
        if allowed == OPEN:
            continue
        status = client.generic(method, reverse(name, kwargs=world.kwargs(name, anew=True))).status_code
        good = (200, 302, 400, 422) if letter in allowed else (403, 404)
        if status not in good:
            wrong.append(f"{method} {name}: {status}, expected one of {good}")
    assert not wrong, "\n".join(wrong)


def role_letter(role: str) -> str:
    return next(letter for letter, name in LETTERS.items() if name == role)


@pytest.mark.django_db
@pytest.mark.parametrize("role", LETTERS.values())
def test_a_member_of_another_organisation_meets_404_for_every_row_and_reads_nothing(world, stranger, role):
    client, wrong = client_of(world.members[role]), []
    for name, method in ROWS:
        if POLICY[name, method] == OPEN or name.startswith("species:"):
            continue
        own_prefix = {**stranger.kwargs(name), "org": world.org.slug}
        addresses = [reverse(name, kwargs=stranger.kwargs(name))]
        if "uid" in own_prefix and name != "projects:history":
            addresses.append(reverse(name, kwargs=own_prefix))
        for address in addresses:
            answer = client.generic(method, address)
            expected = (404,) if address.startswith("/o/other/") or role == "manager" else (403, 404)
            if answer.status_code not in expected or CANARY.encode() in answer.content:
                wrong.append(f"{method} {address}: {answer.status_code}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.django_db
def test_lists_never_show_rows_of_another_organisation(world, stranger):
    for role, membership in world.members.items():
        client = client_of(membership)
        for name, method in ROWS:
            if method == "GET" and role_letter(role) in POLICY[name, method] and POLICY[name, method] != OPEN:
                answer = client.get(reverse(name, kwargs=world.kwargs(name)))
                assert CANARY.encode() not in answer.content, name


@pytest.mark.django_db
def test_without_a_sign_in_every_member_page_leads_to_the_sign_in(world):
    client = Client()
    for name, method in ROWS:
        answer = client.generic(method, reverse(name, kwargs=world.kwargs(name)))
        if POLICY[name, method] == OPEN:
            assert answer.status_code == 200, name
        else:
            assert answer.status_code == 302, name
            assert answer.url.startswith("/accounts/login/"), name


@pytest.mark.django_db
def test_methods_without_a_row_are_refused(world):
    client, wrong = client_of(world.members["manager"]), []
    for name in CHECKED:
        for method in METHODS:
            if (name, method) not in POLICY:
                status = client.generic(method, reverse(name, kwargs=world.kwargs(name))).status_code
                if status != 405:
                    wrong.append(f"{method} {name}: {status}")
    assert not wrong, "\n".join(wrong)


@pytest.mark.django_db
def test_a_member_limited_to_projects_meets_404_for_every_row_of_the_others(world):
    """A volunteer, a funder and a lead with a grant see the granted project only."""
    granted = factories.project(world.org, name="Granted")
    for role in ("volunteer", "funder", "field_lead"):
        member = factories.member(world.org, role, projects=[granted])
        client, wrong = client_of(member), []
        for name, method in ROWS:
            if "uid" not in PAGES[name] or POLICY[name, method] == OPEN or name in OF_THE_WHOLE_ORGANISATION:
                continue
            status = client.generic(method, reverse(name, kwargs=world.kwargs(name))).status_code
            if status not in (403, 404) or (status == 403 and role_letter(role) in POLICY[name, method]):
                wrong.append(f"{role}: {method} {name}: {status}")
        assert not wrong, "\n".join(wrong)


# Rows that belong to no project: a lead with a grant still sees them.
OF_THE_WHOLE_ORGANISATION = {
    "projects:history", "projects:season_edit", "projects:nursery_detail",
    "projects:nursery_edit", "projects:nursery_archive", "projects:person_detail", "projects:person_edit",
    "projects:person_end",
}  # fmt: skip


@pytest.mark.django_db
def test_an_ended_membership_opens_nothing_on_the_next_request(world):
    from django.utils import timezone

    membership = world.members["manager"]
    client = client_of(membership)
    home = reverse("projects:home", kwargs={"org": "hill"})
    assert client.get(home).status_code == 200
    membership.ended_at = timezone.now()
    membership.save()
    assert client.get(home).status_code == 404


@pytest.mark.django_db
def test_every_post_without_its_token_is_refused(world):
    membership = world.members["manager"]
    client = Client(enforce_csrf_checks=True)
    client.force_login(membership.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    for name, method in ROWS:
        if method == "POST":
            assert client.post(reverse(name, kwargs=world.kwargs(name))).status_code == 403, name
