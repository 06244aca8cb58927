"""Rules of a planting day as pages show them, judged or not, and what a crew takes along."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q

from projects import day_rule_words as words
from projects.calc import day_rules as calc
from projects.models import Block, DayRule, Organisation, Project, Site


@dataclass(frozen=True)
class RuleRow:
    """A rule in words."""

    rule: DayRule
    when: str
    beside: str
    effect: str

    @property
    def stops(self) -> bool:
        return self.rule.effect == calc.STOP


@dataclass(frozen=True)
class RulesInForce:
    """The rules that hold, and whether they are the project's own."""

    rows: Sequence[RuleRow]
    are_own: bool

    @property
    def rules(self) -> list[DayRule]:
        return [row.rule for row in self.rows]


def in_force(organisation: Organisation, project: Project | None) -> RulesInForce:
    """The project's own rules where it has any, else the organisation's; one query."""
    found = list(
        DayRule.objects.filter(
            Q(project=None) | Q(project=project), organisation=organisation
        ).select_related("project")
    )
    own = [rule for rule in found if rule.project_id is not None]
    chosen = own or [rule for rule in found if rule.project_id is None]
    return RulesInForce([row_of(rule, organisation.units) for rule in chosen], bool(own) or project is None)


def row_of(rule: DayRule, units: str) -> RuleRow:
    effect = str(words.EFFECTS[rule.effect])
    return RuleRow(rule, words.when(rule, units), words.beside(rule), effect)


@dataclass(frozen=True)
class SaidRow:
    """What one rule says this morning, with what was read."""

    row: RuleRow
    read: str


@dataclass(frozen=True)
class JudgedDay:
    """The answer for the day."""

    verdict: str
    title: str
    stops: Sequence[SaidRow]
    thinks: Sequence[SaidRow]
    quiet: Sequence[SaidRow]
    not_looked_at: Sequence[RuleRow]


def judged(rules: RulesInForce, readings: Mapping[str, calc.Reading], units: str) -> JudgedDay:
    """Judge this morning's readings by the rules in force."""
    by_key = {str(row.rule.uid): row for row in rules.rows}
    found = calc.judge([pure(row.rule) for row in rules.rows], readings)

    def shown(said: Sequence[calc.Said]) -> list[SaidRow]:
        return [SaidRow(by_key[each.rule.key], _read(each, units)) for each in said]

    return JudgedDay(
        found.verdict,
        str(words.VERDICTS[found.verdict]),
        shown(found.stops),
        shown(found.thinks),
        shown([each for each in found.said if each.state == calc.QUIET]),
        [by_key[each.rule.key] for each in found.not_looked_at],
    )


def pure(rule: DayRule) -> calc.Rule:
    """A rule as the judgement takes it."""
    return calc.Rule(str(rule.uid), rule.measure, rule.side, rule.limit, rule.effect)


def _read(said: calc.Said, units: str) -> str:
    if said.reading is None or isinstance(said.reading, bool):
        return ""
    return words.amount(said.rule.measure, said.reading, units)


@dataclass(frozen=True)
class SiteOfCrew:
    """A site a crew goes to: its emergency number and what to know of its blocks."""

    site: Site
    hazards: Sequence[Block]


def sites_of(project: Project) -> list[SiteOfCrew]:
    """Sites where the project has a block in use; one query."""
    found: dict[int, tuple[Site, list[Block]]] = {}
    blocks = project.blocks.filter(archived_at__isnull=True).select_related("site")
    for block in blocks.order_by("site__name", "site_id", "name", "id"):
        _site, hazards = found.setdefault(block.site_id, (block.site, []))
        if block.hazards.strip():
            hazards.append(block)
    return [SiteOfCrew(site, hazards) for site, hazards in found.values()]
