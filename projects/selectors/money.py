"""A project's money read for its page: lines, sums by season, kind and block in the project's currency."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from projects.access import Actor, visible_budget_lines
from projects.calc import money_by_season as calc
from projects.figures import MINOR_DIGITS
from projects.models import Block, BudgetLine, CostKind, Project, Season


@dataclass(frozen=True)
class Row:
    """A named sum: a kind, a season or a block."""

    label: str
    money: calc.Money
    subject: Any = None
    kinds: Sequence["Row"] = ()


@dataclass(frozen=True)
class ProjectMoney:
    """What the money page shows. `left_out` are lines in another currency without a rate."""

    project: Project
    lines: Sequence[BudgetLine]
    table: calc.MoneyTable
    seasons: Sequence[Row] = ()
    blocks: Sequence[Row] = ()
    converted: Sequence[BudgetLine] = ()
    left_out: Sequence[BudgetLine] = field(default_factory=list)

    @property
    def spent_beyond(self) -> int:
        """How much was spent beyond everything planned and set aside; 0 where something is left."""
        return max(-self.table.left, 0)

    @property
    def over_budget(self) -> int:
        """How much more is planned, the money set aside included, than the project's budget holds."""
        budget = self.project.budget_minor
        return 0 if budget is None else max(self.table.planned_with_set_aside - budget, 0)


def rate_of(line: BudgetLine, currency: str) -> Decimal | None:
    """What one whole unit of a line's currency is worth in another; None where nobody stated it."""
    return Decimal(1) if line.currency == currency else line.exchange_rate


def in_currency(line: BudgetLine, currency: str) -> calc.Money | None:
    """A line's money in minor units of a currency; None where its rate is not stated."""
    rate = rate_of(line, currency)
    if rate is None:
        return None
    digits = (MINOR_DIGITS.get(line.currency, 2), MINOR_DIGITS.get(currency, 2))
    return calc.Money(
        calc.converted(line.planned_minor, rate, *digits), calc.converted(line.spent_minor, rate, *digits)
    )


def project_money(actor: Actor, project: Project) -> ProjectMoney:
    """Add up what the actor may read of a project's budget; one query."""
    rows = visible_budget_lines(actor).filter(project=project)
    lines = list(rows.select_related("season", "block__site", "plan").order_by("season__starts_on", "id"))
    held = [(line, in_currency(line, project.currency)) for line in lines]
    counted = [(line, money) for line, money in held if money is not None]
    table = calc.added_up(
        [calc.Line(line.kind, line.season_id, line.block_id, money) for line, money in counted],
        project.contingency_share,
    )
    return ProjectMoney(
        project, lines, table,
        seasons=_season_rows(table, {line.season_id: line.season for line, _money in counted}),
        blocks=_block_rows(table, {line.block_id: line.block for line, _money in counted}),
        converted=[line for line, _money in counted if line.currency != project.currency],
        left_out=[line for line, money in held if money is None],
    )  # fmt: skip


def _season_rows(table: calc.MoneyTable, seasons: dict[int | None, Season | None]) -> list[Row]:
    """Seasons as time goes, what belongs to none last; in each the kinds in their fixed order."""
    order = sorted(table.by_season, key=lambda key: _begins(seasons[key]))
    names = dict(CostKind.choices)
    found = []
    for key in order:
        kinds = table.by_season[key]
        rows = [Row(str(names[kind]), kinds[kind]) for kind in names if kind in kinds]
        total = sum((row.money for row in rows), calc.Money())
        found.append(Row(str(seasons[key] or ""), total, seasons[key], rows))
    return found


def _begins(season: Season | None) -> tuple[date, int]:
    return (date.max, 0) if season is None else (season.starts_on, season.pk)


def _block_rows(table: calc.MoneyTable, blocks: dict[int | None, Block | None]) -> list[Row]:
    rows = [Row(str(block or ""), table.by_block[key], block) for key, block in blocks.items()]
    return sorted(
        rows, key=lambda row: (row.subject is None, row.label, row.subject.pk if row.subject else 0)
    )


def money_until(lines: Iterable[BudgetLine], currency: str, day: date) -> calc.Money:
    """Money of lines whose season had begun by a day; those of no season always count, those without a rate never."""
    found = [
        in_currency(line, currency) for line in lines if line.season is None or line.season.starts_on <= day
    ]
    return sum((money for money in found if money is not None), calc.Money())
