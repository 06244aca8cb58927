"""Money planned and spent, added up by season, kind and block in one currency; what is left and what is over."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal


def whole(amount: Decimal | float) -> int:
    """Round an amount in minor units half away from zero.

    >>> whole(Decimal("2.5")), whole(Decimal("-2.5")), whole(1.4)
    (3, -3, 1)
    """
    return int(Decimal(str(amount)).to_integral_value(ROUND_HALF_UP))


def converted(minor: int, rate: Decimal, from_digits: int, to_digits: int) -> int:
    """Minor units of one currency in minor units of another.

    Parameters
    ----------
    minor : amount. [minor units of the first currency]
    rate : what one whole unit of the first is worth in whole units of the second.
    from_digits, to_digits : decimal digits of the two minor units. [digits]

    Examples
    --------
    One thousand Kenyan shillings at 0.0067 euro; five thousand Ugandan shillings, which have no cents.

    >>> converted(100_000, Decimal("0.0067"), 2, 2), converted(5_000, Decimal("0.00025"), 0, 2)
    (670, 125)
    """
    return whole(minor * rate.scaleb(to_digits - from_digits))


@dataclass(frozen=True, slots=True)
class Money:
    """What is planned and what is spent. [minor units of one currency]"""

    planned: int = 0
    spent: int = 0

    def __add__(self, other: "Money") -> "Money":
        return Money(self.planned + other.planned, self.spent + other.spent)

    @property
    def left(self) -> int:
        """Planned less spent; below zero where more was spent than planned."""
        return self.planned - self.spent

    @property
    def over(self) -> int:
        """How much more was spent than planned; 0 where nothing was."""
        return max(-self.left, 0)


@dataclass(frozen=True, slots=True)
class Line:
    """One line in the currency of the whole. `season` and `block` are keys, None where it names none."""

    kind: str
    season: Hashable
    block: Hashable
    money: Money


@dataclass(frozen=True, slots=True)
class MoneyTable:
    """A budget added up.

    Attributes
    ----------
    by_season : {season: {kind: money}}.
    by_block : {block: money}.
    total : money of all lines, nothing set aside.
    set_aside : what the contingency adds to the planned. [minor units]
    """

    by_season: Mapping[Hashable, Mapping[str, Money]] = field(default_factory=dict)
    by_block: Mapping[Hashable, Money] = field(default_factory=dict)
    total: Money = field(default_factory=Money)
    set_aside: int = 0

    @property
    def planned_with_set_aside(self) -> int:
        """What the lines plan, and what is set aside for the unforeseen."""
        return self.total.planned + self.set_aside

    @property
    def left(self) -> int:
        """What may still be spent, the money set aside included; below zero where all of it is gone and more."""
        return self.planned_with_set_aside - self.total.spent

    @property
    def taken_from_set_aside(self) -> int:
        """How much of the money set aside is used up by spending beyond the lines."""
        return min(self.total.over, self.set_aside)


def added_up(lines: Iterable[Line], contingency_share: float) -> MoneyTable:
    """Add lines up by season, kind and block.

    The contingency is a share of everything planned and stands beside the lines, never inside one.

    Raises
    ------
    ValueError
        If the share lies outside 0..1.

    Examples
    --------
    >>> table = added_up([Line("stock", 1, "a", Money(1000, 1050)), Line("care", 2, None, Money(500, 0))], 0.1)
    >>> table.total, table.set_aside, table.left
    (Money(planned=1500, spent=1050), 150, 600)
    """
    if not 0 <= contingency_share <= 1:
        raise ValueError(f"a contingency is a share from 0 to 1, got {contingency_share}.")
    lines = list(lines)
    by_season: dict[Hashable, dict[str, Money]] = {}
    for season, of_season in _grouped(lines, lambda line: line.season).items():
        kinds = _grouped(of_season, lambda line: line.kind)
        by_season[season] = {str(kind): _sum(of_kind) for kind, of_kind in kinds.items()}
    by_block = {block: _sum(rows) for block, rows in _grouped(lines, lambda line: line.block).items()}
    total = _sum(lines)
    share = Decimal(str(contingency_share))
    return MoneyTable(by_season, by_block, total, whole(total.planned * share))


def _grouped(lines: Iterable[Line], key: Callable[[Line], Hashable]) -> dict[Hashable, list[Line]]:
    groups: dict[Hashable, list[Line]] = defaultdict(list)
    for line in lines:
        groups[key(line)].append(line)
    return dict(groups)


def _sum(lines: Iterable[Line]) -> Money:
    return sum((line.money for line in lines), Money())


@dataclass(frozen=True, slots=True)
class CostPerTree:
    """Money for each living tree; `most` is None where the trees may all be dead. [minor units]"""

    value: int | None
    least: int | None
    most: int | None


def cost_per_living(minor: int, living: float, lowest: float, highest: float) -> CostPerTree:
    """Money for each living tree with the limits of how many live.

    More living trees make each one cheaper, so the limits cross. The money is taken as known.

    Parameters
    ----------
    minor : money. [minor units]
    living, lowest, highest : living trees with their limits. [trees]

    Raises
    ------
    ValueError
        If the limits are out of order or below zero.

    Examples
    --------
    >>> cost_per_living(100_000, 800, 500, 1000)
    CostPerTree(value=125, least=100, most=200)
    >>> cost_per_living(100_000, 20, 0, 50)
    CostPerTree(value=5000, least=2000, most=None)
    """
    if not 0 <= lowest <= living <= highest:
        raise ValueError("living trees need 0 <= lowest <= living <= highest.")

    def each(trees: float) -> int | None:
        return whole(Decimal(minor) / Decimal(str(trees))) if trees > 0 else None

    return CostPerTree(each(living), each(highest), each(lowest))
