"""How far a round's figures can be trusted: what is open, what deciding it could give, how well people count."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count

from monitoring.estimators import rows
from monitoring.models import Case, CaseKind, Estimate, SurveyRound, SurvivalPlot
from monitoring.selectors.headlines import Line, headlines, lines_by_scope
from monitoring.selectors.results import Tally, added, is_behind, tallies_of, with_silent_blocks
from projects.models import Project

OBSERVERS = (
    rows.OBSERVER_DIFFERENCE,
    rows.OBSERVER_KAPPA,
    rows.ALIVE_FOUND,
    rows.NOT_FOUND_LATER_ALIVE,
)


@dataclass(frozen=True)
class Span:
    """One line between the two ends of what deciding something could give."""

    line: Line
    low: Estimate | None
    high: Estimate | None
    target: float

    @property
    def now(self) -> str:
        """The outcome as it stands; empty where none is given."""
        return self.line.survival.outcome if self.line.survival else ""

    @property
    def outcomes(self) -> list[str]:
        """The outcomes at the two ends, each once, the worse end first; none before the age of the check."""
        if self.now in ("", "so_far"):
            return []
        ends = [outcome_at(figure, self.target) for figure in (self.low, self.high)]
        return list(dict.fromkeys(end for end in ends if end))

    @property
    def could_turn(self) -> bool:
        """Whether deciding what is open could change the outcome."""
        return any(end != self.now for end in self.outcomes)


def outcome_at(figure: Estimate | None, target: float) -> str:
    """The outcome were a figure the whole truth, by its one-sided limits; empty without them."""
    if figure is None or figure.lower_one_sided is None or figure.upper_one_sided is None:
        return ""
    if figure.lower_one_sided >= target:
        return "meets_target"
    return "falls_short" if figure.upper_one_sided < target else "not_settled"


@dataclass(frozen=True)
class Kind:
    """Open doubts of one kind."""

    kind: str
    number: int

    @property
    def words(self) -> str:
        return str(CaseKind(self.kind).label)


@dataclass(frozen=True)
class Pair:
    """A plot two people counted, and how many each found alive."""

    name: str
    uid: str
    first: int
    second: int
    planted: int


@dataclass(frozen=True)
class Trust:
    """Everything the page says; nothing here asks the database."""

    survey_round: SurveyRound
    project: Project
    whole: Line | None
    blocks: list[Line]
    kinds: list[Kind]
    tallies: Mapping[str, Tally]
    observers: Mapping[str, Estimate]
    pairs: list[Pair]
    is_behind: bool

    @property
    def target(self) -> float:
        return float(self.project.target_survival)

    @property
    def line(self) -> Line | None:
        """All blocks together, else the only one."""
        if self.whole is not None and self.whole.survival is not None and len(self.blocks) > 1:
            return self.whole
        return self.blocks[0] if len(self.blocks) == 1 else None

    @property
    def tally(self) -> Tally:
        return added(self.tallies.values())

    @property
    def n_open(self) -> int:
        return sum(kind.number for kind in self.kinds)

    @property
    def not_found(self) -> int:
        return sum(line.not_found for line in self.blocks)

    @property
    def n_flagged(self) -> int:
        return sum(line.survival.n_flagged for line in self.blocks if line.survival)

    @property
    def everything(self) -> Span | None:
        """All that is open, decided for the worst and for the best."""
        return self.span_of(self.line) if self.line else None

    def span_of(self, line: Line) -> Span:
        return Span(line, line.worst, line.best, self.target)

    @property
    def parts(self) -> list[tuple[str, Span]]:
        """Each open thing alone: its code, and what deciding it could give."""
        line = self.line
        if line is None:
            return []
        found = line.figures
        ends = {
            "cases": (found.get(rows.SURVIVAL_CASES_LOW), found.get(rows.SURVIVAL_CASES_HIGH)),
            "missing": (found.get(rows.SURVIVAL_MISSING_DEAD), found.get(rows.SURVIVAL_MISSING_ALIVE)),
            "not_found": (line.survival, line.if_found) if self.not_found else (None, None),
            "uncertain": (found.get(rows.SURVIVAL_UNCERTAIN_NATURAL), line.survival),
        }
        return [
            (code, Span(line, low, high, self.target)) for code, (low, high) in ends.items() if low and high
        ]

    @property
    def open_blocks(self) -> list[Span]:
        """Blocks in which something is open, where there are several."""
        if len(self.blocks) < 2:
            return []
        return [self.span_of(line) for line in self.blocks if is_open(line)]

    @property
    def missing_blocks(self) -> list[tuple[Line, Tally]]:
        """Blocks with plots that could not be counted or were not reported."""
        known = [(line, self.tallies.get(line.key, Tally())) for line in self.blocks]
        return [(line, tally) for line, tally in known if tally.n_missing or tally.n_open]

    @property
    def nothing_open(self) -> bool:
        return not (self.n_open or self.not_found or self.tally.n_missing or self.parts)


def is_open(line: Line) -> bool:
    return bool(line.not_found) or line.worst is not line.survival or line.best is not line.survival


def trust_of(survey_round: SurveyRound) -> Trust:
    """Read what the page needs in a fixed number of queries. The caller has checked that the round may be seen."""
    figures = list(headlines([survey_round.pk], scope__in=("project", "block")))
    observers = {row.measure: row for row in figures if row.measure in OBSERVERS}
    lines = lines_by_scope(row for row in figures if row.measure not in OBSERVERS)
    blocks = with_silent_blocks(survey_round, lines.get("block", []))
    return Trust(
        survey_round=survey_round,
        project=survey_round.project,
        whole=next(iter(lines.get("project", [])), None),
        blocks=[line for line in blocks if not line.figures or line.has_planted_trees or line.worst],
        kinds=open_kinds(survey_round),
        tallies=tallies_of(survey_round),
        observers=observers,
        pairs=pairs_of(observers.get(rows.OBSERVER_DIFFERENCE)),
        is_behind=is_behind(survey_round),
    )


def open_kinds(survey_round: SurveyRound) -> list[Kind]:
    """Open cases of a round by kind, in the order kinds are told."""
    cases = Case.objects.filter(round=survey_round, settled_seq__isnull=True)
    found = dict(cases.order_by().values_list("kind").annotate(n=Count("id")))
    return [Kind(kind, found[kind]) for kind in CaseKind.values if kind in found]


def pairs_of(figure: Estimate | None) -> list[Pair]:
    """The plots counted twice, with their names as they are now."""
    told: Sequence[Iterable[Any]] = figure.facts.get("pairs", []) if figure else []
    names = dict(
        SurvivalPlot.objects.filter(uid__in=[uid for uid, *_counts in told]).values_list("uid", "name")
    )
    by_text = {str(uid): name for uid, name in names.items()}
    return [Pair(by_text.get(uid, ""), uid, *counts) for uid, *counts in told]
