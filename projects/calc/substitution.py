"""Does what came fit the line of an order, and if it is something else, was that allowed?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

FITS, ALLOWED, ASK, NOT_ALLOWED = "fits", "allowed", "ask", "not_allowed"
VERDICTS = (FITS, ALLOWED, ASK, NOT_ALLOWED)  # from the most welcome to the least
RULES = ("none", "ask", "same_species", "listed")


@dataclass(frozen=True, slots=True)
class Listed:
    """What may come instead, by rank: the lowest is the most wanted. An empty stock type is any."""

    species: int
    stock_type: str = ""
    rank: int = 1


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a line asks for, and what it says of anything else. Empty texts ask for nothing in particular."""

    species: int
    stock_type: str
    age_code: str = ""
    provenance: str = ""
    rule: str = "ask"
    listed: tuple[Listed, ...] = ()


@dataclass(frozen=True, slots=True)
class Sent:
    """What came. An empty text is not known."""

    species: int
    stock_type: str
    age_code: str = ""
    provenance: str = ""


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether what came may stand for the line.

    Attributes
    ----------
    verdict : str
        `fits`, `allowed` (by the line's rule), `ask` (somebody must say yes) or `not_allowed`.
    differs : tuple of str
        In what it differs: `species`, `stock_type`, `age_code`, `provenance`.
    rank : int
        The place on the line's list; 0 where no list was asked.
    """

    verdict: str
    differs: tuple[str, ...] = ()
    rank: int = 0


def fit(wanted: Wanted, sent: Sent) -> Fit:
    """Judge what came by the rule of a line.

    Parameters
    ----------
    wanted : Wanted
        The line; its rule is one of `RULES`.
    sent : Sent
        What came.

    Returns
    -------
    Fit

    Raises
    ------
    ValueError
        If the rule is unknown.

    Notes
    -----
    What the list names is allowed under every rule: drafts list only with the rule `listed`, and what was agreed to
    after an order was placed is put on the list of its line whatever its rule.

    A provenance is free text: two ways of writing one place cannot be told from two places. So a provenance that
    is written otherwise is never allowed by itself, whatever the rule says of species and sizes, and never refused
    by itself either: it is asked about. A text that was not asked for, or is not known, does not differ.

    Examples
    --------
    >>> fit(Wanted(1, "bare_root", "1+1", rule="same_species"), Sent(1, "container"))
    Fit(verdict='allowed', differs=('stock_type',), rank=0)
    >>> fit(Wanted(1, "bare_root", provenance="Serra"), Sent(1, "bare_root", provenance="Costa")).verdict
    'ask'
    """
    if wanted.rule not in RULES:
        raise ValueError(f"Unknown rule {wanted.rule!r}; use one of {', '.join(RULES)}.")
    differs = _differences(wanted, sent)
    in_kind = tuple(name for name in differs if name != "provenance")
    judged = _by_rule(wanted, sent, in_kind) if in_kind else Fit(FITS)
    if "provenance" in differs and judged.verdict in (FITS, ALLOWED):
        return Fit(ASK, differs, judged.rank)
    return Fit(judged.verdict, differs, judged.rank)


def _differences(wanted: Wanted, sent: Sent) -> tuple[str, ...]:
    found = [name for name in ("species", "stock_type") if getattr(wanted, name) != getattr(sent, name)]
    for name in ("age_code", "provenance"):
        asked, came = _plainly(getattr(wanted, name)), _plainly(getattr(sent, name))
        if asked and came and asked != came:
            found.append(name)
    return tuple(found)


def _plainly(text: str) -> str:
    return " ".join(text.casefold().split())


def _by_rule(wanted: Wanted, sent: Sent, differs: tuple[str, ...]) -> Fit:
    ranks = [
        row.rank
        for row in wanted.listed
        if row.species == sent.species and row.stock_type in ("", sent.stock_type)
    ]
    if ranks:
        return Fit(ALLOWED, rank=min(ranks))
    if wanted.rule == "ask":
        return Fit(ASK)
    same_species = wanted.rule == "same_species" and "species" not in differs
    return Fit(ALLOWED if same_species else NOT_ALLOWED)


def best_line(lines: Iterable[tuple[int, Wanted]], sent: Sent) -> tuple[int, Fit] | None:
    """Return the id of the line that what came fits best, the earlier of equals; None where there is no line.

    >>> best_line([(7, Wanted(1, "bare_root")), (8, Wanted(2, "bare_root"))], Sent(2, "bare_root"))
    (8, Fit(verdict='fits', differs=(), rank=0))
    """
    judged = [(key, fit(wanted, sent)) for key, wanted in lines]
    return min(judged, key=lambda pair: (VERDICTS.index(pair[1].verdict), pair[1].rank), default=None)
