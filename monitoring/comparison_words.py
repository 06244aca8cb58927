"""A comparison in words: how likely chance would do as much, what else differed, what would tell things apart."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures

DAYS_THAT_MATTER = (
    30  # apart in planting, on average: a month of season may be the difference (common practice)
)
SMALLEST = 1000


def chance_words(p_value: float | None) -> str:
    """How often chance alone would show as much, things and number of comparisons being what they are.

    >>> chance_words(0.3), chance_words(0.04), chance_words(1e-5)
    ('chance alone often does as much', 'chance does as much once in 25', 'chance does as much less than once in 1,000')
    """
    if p_value is None:
        return ""
    if p_value > 0.2:
        return _("chance alone often does as much")
    once = int(1 / max(p_value, 1e-9))
    if once > SMALLEST:
        return _("chance does as much less than once in %(number)s") % {"number": figures.quantity(SMALLEST)}
    return _("chance does as much once in %(number)s") % {"number": figures.quantity(once)}


def handling_words(name: str, days_later: float | None, crews_apart: bool) -> str:
    """What else than the thing itself may have made the difference; empty where nothing is known to.

    >>> handling_words("Lot A", 41.2, False)
    'Lot A was planted 41 days later than its peers on average; the date may be part of the difference.'
    """
    told = []
    if days_later is not None and abs(days_later) > DAYS_THAT_MATTER:
        number = round(abs(days_later))
        told.append(later_words(name, number) if days_later > 0 else earlier_words(name, number))
    if crews_apart:
        told.append(
            _("%(name)s was planted by other crews than its peers; the crew may be part of the difference.")
            % {"name": name}
        )
    return " ".join(told)


def later_words(name: str, number: int) -> str:
    return ngettext(
        "%(name)s was planted %(n)s day later than its peers on average; the date may be part of the difference.",
        "%(name)s was planted %(n)s days later than its peers on average; the date may be part of the difference.",
        number,
    ) % {"name": name, "n": figures.quantity(number)}


def earlier_words(name: str, number: int) -> str:
    return ngettext(
        "%(name)s was planted %(n)s day earlier than its peers on average; the date may be part of the difference.",
        "%(name)s was planted %(n)s days earlier than its peers on average; the date may be part of the difference.",
        number,
    ) % {"name": name, "n": figures.quantity(number)}


def blocks_words(names: Sequence[str], n_blocks: int) -> str:
    """Block names in a sentence: "North, South and 3 more".

    >>> blocks_words(["North", "South"], 5), blocks_words(["North"], 1)
    ('North, South and 3 more', 'North')
    """
    more = n_blocks - len(names)
    listed = ", ".join(names)
    if more <= 0:
        return listed
    return _("%(names)s and %(n)s more") % {"names": listed, "n": figures.quantity(more)}


def way_to_tell(own: str, peer: str, peer_block: str, plots: int) -> str:
    """What would separate a thing from its ground.

    >>> way_to_tell("North", "PINE-2", "North", 5)
    'To tell the plants from the season, set this one and PINE-2 in North in one season, at least 5 plots holding each.'
    """
    words = {"own": own, "peer": peer, "peer_block": peer_block, "plots": figures.plots(plots)}
    if own == peer_block:
        return (
            _(
                "To tell the plants from the season, set this one and %(peer)s in %(own)s in one season, at least"
                " %(plots)s holding each."
            )
            % words
        )
    return (
        _(
            "To tell the plants from the ground, set this one and %(peer)s side by side in one season, in %(own)s or"
            " in %(peer_block)s, at least %(plots)s holding each."
        )
        % words
    )


def odds_words(odds: float | None, lower: float | None, upper: float | None) -> str:
    """Odds of living over those of the peers.

    >>> odds_words(2.385, 1.25, 4.55)
    '2.4 times (1.2 to 4.6)'
    """
    if odds is None or lower is None or upper is None:
        return ""
    numbers = {"odds": odds, "lower": lower, "upper": upper}
    words = {name: figures.quantity(number, 1 if number < 10 else 0) for name, number in numbers.items()}
    return _("%(odds)s times (%(lower)s to %(upper)s)") % words


def best_words(chance: float | None) -> str:
    """Chance of being the best; never told as certain, since it comes from draws.

    >>> best_words(0.77), best_words(1.0)
    ('the best with a chance of 77\xa0%', 'the best with a chance of more than 99\xa0%')
    """
    if chance is None:
        return ""
    if chance > 0.99:
        return _("the best with a chance of more than %(share)s") % {"share": figures.percent(0.99)}
    if chance < 0.01:
        return _("the best with a chance of less than %(share)s") % {"share": figures.percent(0.01)}
    return _("the best with a chance of %(share)s") % {"share": figures.percent(chance)}
