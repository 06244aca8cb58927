"""What killed the trees: causes that stand, and what crews saw on what was lost, the signs apart from the causes."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db.models import F, Q, QuerySet

from monitoring import access
from monitoring.cause_words import told
from monitoring.models import CountLine, LossCause, SurveyRound
from monitoring.selectors.headlines import Line
from projects.access import Actor
from projects.models import Block
from species.models import Species


@dataclass(frozen=True)
class Causes:
    """Causes assigned for a block: those of one round, and those of the rounds before it."""

    own: list[LossCause] = field(default_factory=list)
    earlier: list[LossCause] = field(default_factory=list)

    @classmethod
    def of(cls, rows: Iterable[LossCause], survey_round: SurveyRound) -> "Causes":
        """Share out the causes of one block; rounds after `survey_round` have their say elsewhere."""
        rows = list(rows)
        opened = survey_round.opens_on
        return cls(
            [row for row in rows if row.round_id == survey_round.pk],
            [row for row in rows if row.round_id != survey_round.pk and row.round.opens_on <= opened],
        )

    @property
    def told(self) -> list[dict[str, Any]]:
        return [told(row) for row in self.own]


@dataclass(frozen=True)
class SpeciesLost:
    """What became of the trees of one species that do not live, and the signs seen on their stems."""

    species: str
    dead_stem: int
    empty_spot: int
    not_found: int
    signs: list[tuple[str, int]]

    @property
    def lost(self) -> int:
        return self.dead_stem + self.empty_spot + self.not_found


@dataclass(frozen=True)
class LossesSeen:
    """The same for a block in a round, species by species."""

    species: list[SpeciesLost]

    @property
    def whole(self) -> SpeciesLost:
        """All species together."""
        signs: Counter[str] = Counter()
        for row in self.species:
            signs.update(dict(row.signs))
        return SpeciesLost(
            "",
            sum(row.dead_stem for row in self.species),
            sum(row.empty_spot for row in self.species),
            sum(row.not_found for row in self.species),
            ranked(signs),
        )

    @property
    def without_stem(self) -> int:
        """Lost trees nobody could look at."""
        return self.whole.empty_spot + self.whole.not_found


MARKS = ("dead_stem", "empty_spot", "not_found")


def losses_seen(survey_round: SurveyRound, block: Block) -> LossesSeen:
    """Sum the counting lines of a block in a round; one query."""
    lines = CountLine.objects.filter(
        visit__round=survey_round, visit__is_counting=True, visit__plot__block=block
    ).order_by("species__scientific_name", "id")
    marks: dict[str, Counter[str]] = defaultdict(Counter)
    signs: dict[str, Counter[str]] = defaultdict(Counter)
    for name, seen, *numbers in lines.values_list("species__scientific_name", "signs", *MARKS):
        marks[name].update(dict(zip(MARKS, numbers, strict=True)))
        signs[name].update({sign: int(number or 0) for sign, number in seen.items()})
    return LossesSeen(
        [
            SpeciesLost(
                name, found["dead_stem"], found["empty_spot"], found["not_found"], ranked(signs[name])
            )
            for name, found in marks.items()
        ]
    )


def ranked(signs: Counter[str]) -> list[tuple[str, int]]:
    """Signs that were seen, the most frequent first."""
    return sorted(((sign, n) for sign, n in signs.items() if n), key=lambda row: (-row[1], row[0]))


def species_of(survey_round: SurveyRound, block: Block) -> QuerySet[Species]:
    """Species planted in a block or counted there in a round."""
    counted = CountLine.objects.filter(visit__round=survey_round, visit__plot__block=block)
    here = Q(pk__in=block.cohorts.values("species_id")) | Q(pk__in=counted.values("species_id"))
    return Species.objects.filter(here).order_by("scientific_name", "id")


def standing(actor: Actor, blocks: Iterable[int]) -> dict[int, list[LossCause]]:
    """Causes not withdrawn, by block, those of the latest round first; one query."""
    rows = access.visible_causes(actor).filter(block_id__in=list(blocks), withdrawn_at__isnull=True)
    found: dict[int, list[LossCause]] = defaultdict(list)
    for row in in_order(rows):
        found[row.block_id].append(row)
    return found


def of_round(survey_round: SurveyRound) -> dict[int, list[LossCause]]:
    """The same for one round that the caller may see."""
    rows = LossCause.objects.filter(round=survey_round, withdrawn_at__isnull=True)
    found: dict[int, list[LossCause]] = defaultdict(list)
    for row in in_order(rows):
        found[row.block_id].append(row)
    return found


def in_order(rows: QuerySet[LossCause]) -> QuerySet[LossCause]:
    """The latest round first; in it the whole block before its species, the largest share first."""
    return rows.select_related("round", "species", "assigned_by").order_by(
        F("round__opens_on").desc(),
        "round_id",
        F("species__scientific_name").asc(nulls_first=True),
        F("share").desc(nulls_last=True),
        "id",
    )


def beside_lines(survey_round: SurveyRound, lines: Iterable[Line]) -> list[tuple[Line, list[dict[str, Any]]]]:
    """Blocks of a round that have a cause, or lost more than the target allows, with their causes."""
    causes = of_round(survey_round)
    target = float(survey_round.project.target_survival)
    found = []
    for line in lines:
        assigned = [told(row) for row in causes.get(line.subject.pk, ())] if line.subject else []
        value = line.survival.value if line.survival else None
        if line.subject and (assigned or (value is not None and value < target)):
            found.append((line, assigned))
    return found
