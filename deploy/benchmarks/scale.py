"""Append, recompute and pages on a large organisation: deploy/bench scale --lines 200000

The database is the one TALLYGROVE_DATABASE names; it must be empty or hold only what an earlier run of this
program made. Fails when a page or the storing of a visit takes a second or longer.
"""

import argparse
import json
import os
import platform
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

import django

LIMIT_S = 1.0
REPEATS = 5


@dataclass(frozen=True)
class Measured:
    """One line of the table."""

    what: str
    seconds: float
    queries: int | None = None
    limited: bool = True

    def __str__(self) -> str:
        queries = "" if self.queries is None else f"{self.queries:5} queries"
        late = "  TOO SLOW" if self.limited and self.seconds >= LIMIT_S else ""
        return f"{self.what:46}{self.seconds * 1000:9.0f} ms {queries}{late}"


def main() -> int:
    """Seed if needed, measure, print, judge."""
    parser = argparse.ArgumentParser("deploy/bench scale", description=__doc__)
    parser.add_argument("--lines", type=int, default=200_000, help="count lines in all")
    parser.add_argument("--only", choices=("jobs", "pages"), help="measure only these")
    options = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    os.environ.setdefault("TALLYGROVE_JOBS_THREAD", "0")
    django.setup()
    organisation = provide(options.lines)
    parts = [part for name, part in (("jobs", jobs), ("pages", pages)) if options.only in (None, name)]
    found = []
    for part in parts:
        for line in part(organisation):
            found.append(line)
            print(line, flush=True)
    slow = [line.what for line in found if line.limited and line.seconds >= LIMIT_S]
    print(f"\nToo slow: {', '.join(slow)}" if slow else f"\nNothing took {LIMIT_S:g} s.")
    return 1 if slow else 0


def provide(lines: int):
    """Return the bench's organisation at the wanted size, made when the database is empty."""
    from django.core.management import call_command
    from django.db import connection

    from deploy.benchmarks import _synthetic
    from monitoring.models import CountLine
    from projects.models import Organisation

    call_command("migrate", verbosity=0)
    size = _synthetic.Size.of_lines(lines)
    print(
        f"{date.today().isoformat()} {platform.machine()} {os.cpu_count()} CPU, Python {platform.python_version()}, "  # noqa: DTZ011
        f"{connection.vendor}, {size.lines} count lines"
    )
    organisation = Organisation.objects.filter(slug="bench").first()
    if organisation is None:
        if Organisation.objects.exists():
            sys.exit("This database is in use. Name an empty one in TALLYGROVE_DATABASE.")
        began = time.monotonic()
        organisation = _synthetic.seed(size)
        print(f"Seeded in {time.monotonic() - began:.0f} s", flush=True)
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
    elif not size.lines <= CountLine.objects.count() <= size.lines + 10_000:
        sys.exit("This database holds a bench of another size. Name another one in TALLYGROVE_DATABASE.")
    return organisation


def timed(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


# --- jobs -----------------------------------------------------------------------------------
def jobs(organisation) -> Iterator[Measured]:
    """Storing a visit, then each kind of key, then everything a sweep finds after one visit."""
    from monitoring.models import DirtyKey, SurveyRound, SurvivalPlot
    from monitoring.services import dirty, drain, recompute

    survey_round = SurveyRound.objects.filter(organisation=organisation).order_by("-opens_on").first()
    plots = list(SurvivalPlot.objects.filter(block__organisation=organisation).order_by("?")[:REPEATS])
    append = [timed(lambda plot=plot: append_visit(organisation, survey_round, plot)) for plot in plots]
    yield Measured("store one visit (worst of five)", max(append))
    block = plots[0].block_id
    for kind, key in (
        (dirty.ROUND_BLOCK, f"{survey_round.pk}:{block}"),
        (dirty.ROUND, str(survey_round.pk)),
        (dirty.PROJECT, str(survey_round.project_id)),
    ):
        for again in ("first", "again"):
            dirty.mark(organisation, [dirty.Key(kind, key)])
            seconds = timed(
                lambda kind=kind, key=key: recompute.recompute(
                    organisation_id=organisation.pk, kind=kind, key=key
                )
            )
            assert not DirtyKey.objects.filter(kind=kind, key=key).exists(), DirtyKey.objects.values_list(
                "error"
            )
            yield Measured(f"recompute {kind} ({again})", seconds, limited=False)
    yield Measured("sweep after those visits", timed(drain.work_through), limited=False)


def append_visit(organisation, survey_round, plot) -> None:
    """Store a second opinion on one plot, as a phone would."""
    from monitoring.models import PlotBaseline
    from projects.access import service_actor
    from projects.identifiers import uuid7
    from projects.services import chain, log

    uid = uuid7()
    lines = [
        {"baselines": [str(row.line)], "species": row.species.slug, "alive": 0, "dead_stem": 4}
        for row in PlotBaseline.objects.filter(plot=plot, is_current=True).select_related("species")
    ]
    body = json.dumps(
        {
            "visit": str(uid), "parents": [], "plot": str(plot.uid), "round": str(survey_round.uid),
            "purpose": "survival", "observed_on": survey_round.opens_on.isoformat(),
            "captured_at": f"{survey_round.opens_on}T10:00:00Z", "clock_offset_ms": 0, "status": "counted",
            "reason": "", "lines": lines,
        }
    )  # fmt: skip
    item = log.Item(uid, "visit", "visit/1", chain.sha256_text(body), body)
    (outcome,) = log.append_items(service_actor(organisation), [item])
    assert outcome.outcome.startswith("stored"), outcome


# --- pages ----------------------------------------------------------------------------------
def pages(organisation) -> Iterator[Measured]:
    """Every page a manager opens in a day, and what a phone asks for; the best of three, warm."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client = Client(HTTP_HOST="127.0.0.1", raise_request_exception=False)
    client.force_login(manager(organisation), backend="allauth.account.auth_backends.AuthenticationBackend")
    for address in addresses(organisation):
        times, queries, status = [], 0, 0
        for _ in range(3):
            with CaptureQueriesContext(
                connection,
            ) as captured:
                began = time.perf_counter()
                status = client.get(address).status_code
                times.append(time.perf_counter() - began)
            queries = len(captured)
        name = address.replace(f"/o/{organisation.slug}", "")
        if status != 200:
            raise SystemExit(f"{address} answered {status}")
        yield Measured(shortened(name), min(times), queries)


def shortened(address: str) -> str:
    """Leave the long identities out of an address."""
    parts = [f"{part[:4]}…" if len(part) == 36 else part for part in address.split("/")]
    return "/".join(parts)


def manager(organisation):
    """Return a sign-in that manages the bench's organisation."""
    from projects.models import Membership, Person, User

    user, _made = User.objects.get_or_create(email="manager@bench.example")
    if not Membership.objects.filter(organisation=organisation, user=user).exists():
        person = Person.objects.create(organisation=organisation, user=user, name="Manager of the bench")
        Membership.objects.create(organisation=organisation, user=user, person=person, role="manager")
    return user


ALONE = (
    "projects:home", "projects:site_list", "projects:site_new", "projects:project_list", "projects:project_new",
    "projects:season_list", "projects:stock", "projects:lot_new", "projects:nursery_new", "projects:people",
    "projects:person_new", "projects:organisation_edit", "monitoring:round_list", "monitoring:round_new",
    "monitoring:pass_list", "monitoring:pass_new", "monitoring:case_list", "monitoring:refused_list",
    "monitoring:unsent_new", "monitoring:need_list", "monitoring:summary_list", "monitoring:summary_make",
    "monitoring:method_list", "species:list",
)  # fmt: skip
OF_A_ROW = {
    "Site": ("projects:site_detail", "projects:site_edit", "projects:block_new"),
    "Project": ("projects:project_detail", "projects:project_edit", "monitoring:survey_design"),
    "Block": (
        "projects:block_detail", "projects:block_edit", "projects:block_ground", "projects:planting_day_new",
        "monitoring:plot_new", "monitoring:plot_draw_new",
    ),
    "StockLot": ("projects:lot_detail", "projects:lot_edit", "projects:lot_move", "projects:lot_count"),
    "Nursery": ("projects:nursery_detail",),
    "Cohort": ("projects:cohort_detail",),
    "PlantingDay": ("projects:planting_day_detail",),
    "SurvivalPlot": ("monitoring:plot_detail", "monitoring:plot_edit", "monitoring:baseline_set"),
    "SurveyRound": (
        "monitoring:round_detail", "monitoring:round_edit", "monitoring:sheet_print", "monitoring:upload_new",
        "monitoring:compare", "monitoring:round_cards", "monitoring:second_stage",
    ),
    "Case": ("monitoring:case_detail",),
    "SeasonSummary": ("monitoring:summary_detail",),
}  # fmt: skip


def addresses(organisation) -> list[str]:
    """Addresses of the pages, with the identities of this database, and two of the API."""
    from django.apps import apps
    from django.urls import reverse

    from monitoring.models import RoundPlot

    org = {"org": organisation.slug}
    found = [reverse(name, kwargs=org) for name in ALONE]
    models = {
        model.__name__: model
        for app in ("projects", "monitoring")
        for model in apps.get_app_config(app).get_models()
    }
    for model, names in OF_A_ROW.items():
        row = models[model].objects.filter(organisation=organisation).order_by("-id").first()
        found += [reverse(name, kwargs={**org, "uid": row.uid}) for name in names if row]
    last = RoundPlot.objects.filter(organisation=organisation).select_related("round", "plot").last()
    entry = {**org, "round": last.round.uid, "uid": last.plot.uid}
    found.append(reverse("monitoring:desk_entry", kwargs=entry))
    return [*found, f"/api/v1/o/{organisation.slug}/rounds/", f"/api/v1/o/{organisation.slug}/estimates/"]


if __name__ == "__main__":
    sys.exit(main())
