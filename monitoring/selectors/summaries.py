"""Season summaries as pages show them: the list, and one edition's frozen rows made easy to read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from monitoring import access, summary_words
from monitoring.estimators import rows as codes
from monitoring.models import SeasonSummary
from monitoring.selectors.results import Tally, rounded_up
from projects.access import Actor
from projects.models import ShareLink

Row = dict[str, Any]


def summary_rows(actor: Actor) -> QuerySet[SeasonSummary]:
    """Editions the actor may see, without their rows; what the list shows is read from inside them."""
    return access.visible_summaries(actor).select_related("project", "season")


@dataclass(frozen=True)
class SummaryLine:
    """One frozen line, which reads like a line of live figures."""

    row: Mapping[str, Any]

    @property
    def label(self) -> str:
        return self.row["label"]

    @property
    def note(self) -> str:
        return self.row.get("note", "")

    @property
    def figures(self) -> Mapping[str, Row]:
        return self.row["figures"]

    @property
    def survival(self) -> Row | None:
        return self.figures.get(codes.SURVIVAL)

    @property
    def if_found(self) -> Row | None:
        return self.figures.get(codes.SURVIVAL_IF_FOUND)

    @property
    def worst(self) -> Row | None:
        return self.figures.get(codes.SURVIVAL_WORST_CASE) or self.survival

    @property
    def best(self) -> Row | None:
        return self.figures.get(codes.SURVIVAL_BEST_CASE) or self.if_found or self.survival

    @property
    def is_open(self) -> bool:
        """Something is left to decide that could move the figure."""
        return bool(self.not_found) or codes.SURVIVAL_WORST_CASE in self.figures

    @property
    def removed_alive(self) -> Row | None:
        return self.figures.get(codes.SURVIVAL_REMOVED_ALIVE)

    @property
    def stocking(self) -> Row | None:
        return self.figures.get(codes.STOCKING)

    @property
    def facts(self) -> Mapping[str, Any]:
        return self.survival["facts"] if self.survival else {}

    @property
    def not_found(self) -> int:
        return self.facts.get("not_found", 0)

    @property
    def is_mixed_age(self) -> bool:
        return bool(self.facts.get("mixed_age"))


@dataclass(frozen=True)
class Edition:
    """One edition read for its page; nothing here asks the database."""

    summary: SeasonSummary

    @property
    def rows(self) -> Row:
        return self.summary.rows

    @property
    def target(self) -> float:
        return self.rows["project"]["target_survival"]

    @property
    def whole(self) -> SummaryLine | None:
        return SummaryLine(self.rows["whole"]) if self.rows["whole"] else None

    def lines(self, name: str) -> list[SummaryLine]:
        return [SummaryLine(row) for row in self.rows[name]]

    @property
    def blocks(self) -> list[SummaryLine]:
        return [line for line in self.lines("blocks") if line.survival]

    @property
    def outcomes(self) -> list[tuple[str, int]]:
        """How many blocks have each outcome at the level of claims, in the order outcomes are told."""
        found = [line.survival["outcome_claim"] for line in self.blocks if line.survival]
        told = ("meets_target", "falls_short", "not_settled", "so_far", "")
        return [(code, found.count(code)) for code in told if code in found]

    @property
    def sites(self) -> list[SummaryLine]:
        return [line for line in self.lines("sites") if line.survival]

    @property
    def species(self) -> list[SummaryLine]:
        return [line for line in self.lines("species") if line.survival]

    @property
    def replacements(self) -> list[SummaryLine]:
        """Replacement plantings, which never enter the figures of what they replaced."""
        return [line for line in self.lines("plantings") if line.row.get("replaces") and line.survival]

    @property
    def stocked(self) -> list[SummaryLine]:
        return [line for line in self.lines("blocks") if line.stocking]

    @property
    def stocking_scale(self) -> int:
        tops = [line.row["stocking_target"] or 0 for line in self.stocked]
        tops += [line.stocking["upper"] or 0 for line in self.stocked if line.stocking]
        return rounded_up(max(tops, default=0))

    @property
    def tally(self) -> Tally:
        plots = self.rows["plots"]
        missing = tuple((reason, number) for reason, number in plots["missing"])
        return Tally(plots["planned"], plots["counted"], plots["destroyed"], plots["outside"], missing)

    @property
    def changed(self) -> str:
        return summary_words.changed_words(self.rows["changed"])

    @property
    def starts_on(self) -> date:
        return date.fromisoformat(self.rows["season"]["starts_on"])

    @property
    def ends_on(self) -> date:
        return date.fromisoformat(self.rows["season"]["ends_on"])

    @property
    def causes(self) -> list[Row]:
        """Blocks that fall short with the causes assigned; editions of earlier releases have none."""
        return self.rows.get("causes", [])

    @property
    def needs(self) -> list[Row]:
        days = ("window_opens_on", "window_closes_on", "order_by")
        return [need | {name: parsed(need[name]) for name in days} for need in self.rows["needs"]]

    @property
    def points(self) -> list[Row]:
        """Survival by season, seasons without a figure left out."""
        return [row for row in self.rows["seasons"] if row.get(codes.SURVIVAL, {}).get("value") is not None]


def parsed(day: str | None) -> date | None:
    return date.fromisoformat(day) if day else None


def editions_of(summary: SeasonSummary) -> Sequence[SeasonSummary]:
    """Every edition for the project and season, the newest first."""
    rows = SeasonSummary.objects.filter(project_id=summary.project_id, season_id=summary.season_id)
    return rows.defer("rows").order_by("-edition")


def links_of(actor: Actor, summary: SeasonSummary) -> QuerySet[ShareLink]:
    """Links to one edition, the newest first."""
    return access.visible_links(actor).filter(target_uid=summary.uid).order_by("-id")
