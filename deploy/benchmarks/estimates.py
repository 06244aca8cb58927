"""All estimates of one round against plain SQL: deploy/bench estimates [--lines 1000000]

The database is the one TALLYGROVE_DATABASE names; it must be empty or hold only what deploy/bench scale made. Both
sides are measured in turn, in one run, and the best time of each counts: the SQL that sums the lines of all rounds to
plots and the plots to round × block sums, which gives one ratio of totals and its variance; and the product, which
reads one round and gives every scope, measure and method with limits. Fails when the product takes more than twice
the time of the SQL.
"""

import argparse
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import django

LIMIT = 2.0
TWO_LEVELS = """
WITH plots AS (
  SELECT v.round_id, p.block_id, v.plot_id, SUM(l.alive) AS alive, SUM(l.planted) AS planted
  FROM monitoring_countline l
  JOIN monitoring_visit v ON v.id = l.visit_id
  JOIN monitoring_survivalplot p ON p.id = v.plot_id
  WHERE v.is_counting {round}
  GROUP BY v.round_id, p.block_id, v.plot_id
)
SELECT round_id, block_id, COUNT(*), SUM(alive), SUM(planted), SUM(alive * alive), SUM(planted * planted),
       SUM(alive * planted)
FROM plots GROUP BY round_id, block_id
"""


@dataclass(frozen=True)
class Step:
    """Something to time."""

    what: str
    work: Callable[[], Any]


def main() -> int:
    """Provide the rows, time both sides in turn, print, judge."""
    parser = argparse.ArgumentParser("deploy/bench estimates", description=__doc__)
    parser.add_argument("--lines", type=int, default=1_000_000, help="count lines in all")
    parser.add_argument("--repeats", type=int, default=7)
    options = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings")
    os.environ.setdefault("TALLYGROVE_JOBS_THREAD", "0")
    os.environ.setdefault(
        "OPENBLAS_NUM_THREADS", "1"
    )  # more threads than free processors only wait for each other
    django.setup()
    from deploy.benchmarks.scale import provide

    organisation = provide(options.lines)
    survey_round = rounds_of(organisation)[-1]
    print(f"load of the machine while this ran: {os.getloadavg()[0]:.1f}")
    best = timed_in_turn(steps(survey_round), options.repeats)
    for what, seconds in best.items():
        print(f"{what:62}{seconds * 1000:8.0f} ms", flush=True)
    ratio = best[PRODUCT] / best[SQL_ALL]
    print(f"\n{'all estimates of one round / SQL over all rounds':62}{ratio:8.2f}")
    for what in (SQL_ALONE, SQL_ONE):
        print(f"{'the same / ' + what:62}{best[PRODUCT] / best[what]:8.2f}")
    for what, seconds in once(organisation, survey_round).items():
        print(f"{what:62}{seconds * 1000:8.0f} ms", flush=True)
    print(f"\nAt most {LIMIT:g} times the SQL over all rounds: {'kept' if ratio <= LIMIT else 'BROKEN'}.")
    return 0 if ratio <= LIMIT else 1


SQL_ALL, SQL_ONE = "SQL: lines to plots to round × block, all rounds", "SQL: the same, one round"
SQL_ALONE = "SQL: all rounds, in one process as the product"
PRODUCT = "all estimates of one round: read and estimated"


def steps(survey_round) -> list[Step]:
    """Both sides, and the product's two halves."""
    from monitoring.selectors.round_counts import round_counts

    counts = round_counts(survey_round)
    return [
        Step(SQL_ALL, lambda: fetched(TWO_LEVELS.format(round=""))),
        Step(SQL_ONE, lambda: fetched(TWO_LEVELS.format(round="AND v.round_id = %s"), survey_round.pk)),
        Step(SQL_ALONE, alone),
        Step(PRODUCT, lambda: estimated(round_counts(survey_round))),
        Step("  of which read", lambda: round_counts(survey_round)),
        Step("  of which estimated", lambda: estimated(counts)),
    ]


def timed_in_turn(found: list[Step], repeats: int) -> dict[str, float]:
    """The best time of each step, the steps taken in turn so that all meet the same machine."""
    best = dict.fromkeys((step.what for step in found), float("inf"))
    for _ in range(repeats):
        for step in found:
            best[step.what] = min(best[step.what], seconds_of(step.work))
    return best


def seconds_of(work: Callable[[], Any]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def fetched(sql: str, *values: Any) -> list[Any]:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(sql, values or None)
        return cursor.fetchall()


def alone() -> None:
    """The SQL without parallel workers of the server."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SET max_parallel_workers_per_gather = 0")
        try:
            cursor.execute(TWO_LEVELS.format(round=""))
            cursor.fetchall()
        finally:
            cursor.execute("RESET max_parallel_workers_per_gather")


def estimated(counts) -> int:
    """Every survival and stocking figure of a round; returns how many rows."""
    from monitoring.estimators.round_estimates import round_estimates
    from monitoring.services import estimates, figures

    settings = estimates.settings_of_round(counts.survey_round)
    return len(round_estimates(counts.table, settings)) + len(figures.stocking(counts, settings))


def once(organisation, survey_round) -> dict[str, float]:
    """What takes longer: a round with everything that is stored beside its estimates, and the whole history."""
    from monitoring.selectors.round_counts import round_counts

    rounds = rounds_of(organisation)
    return {
        "\none round as the worker does it, all blocks, written": seconds_of(lambda: stored(survey_round)),
        "the same again, nothing changed": seconds_of(lambda: stored(survey_round)),
        f"all estimates of {len(rounds)} rounds: read and estimated": seconds_of(
            lambda: [estimated(round_counts(one)) for one in rounds]
        ),
    }


def stored(survey_round) -> None:
    """Compute and write the keys of a round: each block, then the round."""
    from django.db import transaction

    from monitoring.models import RoundBlock
    from monitoring.services import figures

    organisation = survey_round.organisation_id
    blocks = RoundBlock.objects.filter(round=survey_round).values_list("block_id", flat=True)
    parts = [
        part
        for block in blocks
        for part in figures.of_round_block(organisation, f"{survey_round.pk}:{block}")
    ]
    parts += figures.of_round(organisation, str(survey_round.pk))
    with transaction.atomic():
        for part in parts:
            part.write()


def rounds_of(organisation) -> list[Any]:
    from monitoring.models import SurveyRound

    rows = SurveyRound.objects.select_related("project", "organisation").filter(organisation=organisation)
    return list(rows.order_by("opens_on"))


if __name__ == "__main__":
    sys.exit(main())
