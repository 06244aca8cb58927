"""Season summaries: an edition copies its rows at a revision and is never changed afterwards."""

import hashlib
import json
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import translation
from django.utils.translation import gettext as _

from monitoring import summary_words
from monitoring.models import DirtyKey, SeasonSummary, SurveyRound, Visit
from monitoring.selectors.season_rows import season_rows
from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Decision, Project, Season, SeasonKind
from projects.services import editing

Row = dict[str, Any]


@transaction.atomic
def make_summary(*, actor: Actor, project: Project, season: Season) -> SeasonSummary:
    """Freeze the figures of a project for a season as the next edition."""
    actor.require("summary.make")
    editing.ours(actor, project, season)
    # Of two people at once the second waits, so that editions are numbered one after the other.
    project = editing.held(project)
    refuse_unready(project, season)
    rows = season_rows(project, season)
    last = SeasonSummary.objects.filter(project=project, season=season).order_by("-edition").first()
    digest = digest_of(rows)
    if last is not None and last.rows_digest == digest:
        raise Refusal(
            _("Nothing has changed since edition %(n)s; it still stands.") % {"n": last.edition},
            code="nothing_new",
        )
    rows["changed"] = changed(project, last, rows)
    summary = SeasonSummary.objects.create(
        organisation=actor.organisation, project=project, season=season, edition=last.edition + 1 if last else 1,
        revision=rows["revision"], made_on=clocks.today_of(actor.organisation), made_by=actor.person,
        rows=rows, rows_digest=digest, what_changed=changed_text(actor, rows),
    )  # fmt: skip
    history.record(actor, "season_summary.made", summary, change={"edition": [None, summary.edition]})
    return summary


def refuse_unready(project: Project, season: Season) -> None:
    """A summary is of a reporting season with a round, and of figures that hold every count."""
    if season.kind != SeasonKind.REPORTING:
        raise Refusal(
            _("Choose a reporting season; planting seasons say when trees went in."), field="season"
        )
    rounds = list(SurveyRound.objects.filter(project=project, season=season).values_list("pk", flat=True))
    if not rounds:
        raise Refusal(
            _(
                "No survey round of this project belongs to this season. Open one first, or choose another season."
            ),
            field="season",
            code="no_round",
        )
    wanted = Q(kind="round", key__in=[str(pk) for pk in rounds]) | Q(kind="project", key=str(project.pk))
    for pk in rounds:
        wanted |= Q(kind="round_block", key__startswith=f"{pk}:")
    if DirtyKey.objects.filter(wanted, organisation_id=project.organisation_id).exists():
        raise Refusal(
            _("Counts have come in that the figures do not hold yet. Try again in a moment."),
            code="figures_behind",
        )


def digest_of(rows: Row) -> str:
    """SHA-256 of the rows, the same for the same figures on any machine."""
    text = json.dumps(rows, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


# --- what changed ---------------------------------------------------------------------------
def changed(project: Project, last: SeasonSummary | None, rows: Row) -> Row | None:
    """What differs from the last edition: figures before and after, and what was counted or corrected since."""
    if last is None:
        return None
    before = last.rows
    return {
        "edition": last.edition,
        "revision": last.revision,
        "planted": [total_planted(before), total_planted(rows)],
        "survival": [survival_of(before), survival_of(rows)],
        "plots_counted": [plots_counted(before), plots_counted(rows)],
        **since(project, last),
    }


def since(project: Project, last: SeasonSummary) -> Row:
    """Visits, corrections of earlier visits and decisions that came after an edition."""
    visits = Visit.objects.filter(
        round__project=project, round__season=last.season, submission_seq__gt=last.revision
    )
    corrections = visits.exclude(parents=[]).count()
    decided = Decision.objects.filter(
        organisation_id=project.organisation_id, seq__gt=last.revision, kind="case.settled",
        subject_uid__in=SurveyRound.objects.filter(project=project, season=last.season).values("cases__uid"),
    )  # fmt: skip
    return {
        "n_visits": visits.count() - corrections,
        "n_corrections": corrections,
        "n_decisions": decided.count(),
    }


def total_planted(rows: Row) -> int:
    return rows["planted"]["trees"] + rows["planted"]["replacements"]


def survival_of(rows: Row) -> Row | None:
    """The project's survival with its interval, as the sentence needs it."""
    figure = (rows["whole"] or {"figures": {}})["figures"].get("survival")
    if figure is None or figure["value"] is None:
        return None
    return {name: figure[name] for name in ("value", "lower", "upper", "outcome_claim")}


def plots_counted(rows: Row) -> int:
    return rows["plots"]["counted"] + rows["plots"]["destroyed"]


def changed_text(actor: Actor, rows: Row) -> str:
    """The sentence in the organisation's language, for whoever reads the row without its page."""
    with translation.override(actor.organisation.language):
        return summary_words.changed_words(rows["changed"])
