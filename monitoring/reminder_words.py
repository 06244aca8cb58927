"""What the reminders of monitoring say, built from their facts when they are shown."""

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects import figures
from projects.models import StockType
from projects.reminder_words import Facts, Sentence, Words, register


def register_words() -> None:
    """Hand the words of every kind to the list of reminders."""
    for kind, rule in KINDS.items():
        register(kind, rule.words, rule.verb, name=rule.name, told=rule.told, settled=rule.settled)


def replace_order(facts: Facts) -> Words:
    stock_type = dict(StockType.choices).get(facts["stock_type"], "")
    numbers = {
        "expected": figures.quantity(facts["n_expected"]),
        "assured": figures.quantity(facts["n_assured"]),
        "assurance": figures.percent(facts["assurance"]),
        "stock_type": stock_type,
    }
    reason = (
        _("%(expected)s plants would do on average, %(assured)s to be %(assurance)s sure (%(stock_type)s).")
        % numbers
    )
    opens_on = parse_date(facts["window_opens_on"] or "")
    if opens_on:
        reason += " " + _("The planting window opens on %(day)s.") % {"day": figures.day(opens_on)}
    else:
        reason += " " + _("No planting window is stated for it, so there is no order date.")
    return {
        "title": _("Order replacements for %(block)s") % facts,
        "reason": reason,
        "action": _("See the block"),
    }


def falls_short(facts: Facts) -> Words:
    return {
        "title": _("%(block)s falls short of its target") % facts,
        "reason": _("Counted in %(round)s. Look at what was lost before anything is planted again.") % facts,
        "action": _("See the block"),
    }


def look_again(facts: Facts) -> Words:
    n = facts["not_found"]
    missing = ngettext("%(n)s tree was not found", "%(n)s trees were not found", n) % {
        "n": figures.quantity(n)
    }
    return {
        "title": _("Go back and look in %(block)s") % facts,
        "reason": _("%(missing)s in %(round)s; whether they live decides whether the target is met.")
        % {"missing": missing, "round": facts["round"]},
        "action": _("Open the round"),
    }


def not_settled(facts: Facts) -> Words:
    n = facts["more_plots"]
    plots = ngettext("%(n)s more plot", "%(n)s more plots", n) % {"n": figures.quantity(n)}
    return {
        "title": _("Count %(plots)s in %(block)s") % {"plots": plots, "block": facts["block"]},
        "reason": _("As many would probably (4 in 5) settle whether the target is met."),
        "action": _("Open the round"),
    }


def case_open(facts: Facts) -> Words:
    n = facts["n_cases"]
    return {
        "title": ngettext("Settle %(n)s odd count", "Settle %(n)s odd counts", n)
        % {"n": figures.quantity(n)},
        "reason": _("Flagged in %(round)s. Until then the figures carry the doubt and say so.") % facts,
        "action": _("Open the cases"),
    }


def round_due(facts: Facts) -> Words:
    n = facts["plots_left"]
    left = ngettext("%(n)s plot", "%(n)s plots", n) % {"n": figures.quantity(n)}
    return {
        "title": _("Count %(left)s of %(round)s") % {"left": left, "round": facts["round"]},
        "reason": _("%(plots)s plots were drawn for it; the date is the day the round closes.")
        % {"plots": figures.quantity(facts["plots"])},
        "action": _("Open the round"),
    }


def baseline_visit(facts: Facts) -> Words:
    n = facts["trees"]
    trees = ngettext("%(n)s replacement", "%(n)s replacements", n) % {"n": figures.quantity(n)}
    return {
        "title": _("Count the new trees into the plots of %(block)s") % {"block": facts["block"]},
        "reason": _(
            "%(trees)s went in (%(cohort)s). Until their plots are visited, nobody can say how many of them live."
        )
        % {"trees": trees, "cohort": facts["cohort"]},
        "action": _("Open the block"),
    }


@dataclass(frozen=True)
class Rule:
    """How a kind is worded, the verb of its button, and what people are told of when it comes and goes."""

    words: Callable[[Facts], Words]
    verb: str
    name: Sentence
    told: Sentence
    settled: Sentence


KINDS: dict[str, Rule] = {
    "replace_order": Rule(
        replace_order, "need.view",
        gettext_lazy("Order replacements"),
        gettext_lazy("once a count shows that trees are missing"),
        gettext_lazy("an order for the block is drafted, or a later count shows none missing"),
    ),
    "falls_short": Rule(
        falls_short, "need.view",
        gettext_lazy("Look at a block that falls short"),
        gettext_lazy("once a count settles it, where no order is asked for"),
        gettext_lazy("an order for the block is drafted, or a later count says otherwise"),
    ),
    "look_again": Rule(
        look_again, "round.edit",
        gettext_lazy("Go back and look for trees"),
        gettext_lazy("while trees not found keep an outcome open"),
        gettext_lazy("the outcome is settled"),
    ),
    "not_settled": Rule(
        not_settled, "round.edit",
        gettext_lazy("Count more plots"),
        gettext_lazy("while more plots would settle an outcome"),
        gettext_lazy("the outcome is settled"),
    ),
    "case_open": Rule(
        case_open, "case.view",
        gettext_lazy("Settle odd counts"),
        gettext_lazy("once a count contradicts another, or cannot be"),
        gettext_lazy("every doubt of the round is settled"),
    ),
    "round_due": Rule(
        round_due, "visit.add",
        gettext_lazy("Count the plots of a round"),
        gettext_lazy("from the day the round opens"),
        gettext_lazy("every plot of it was reported on, or the round is closed"),
    ),
    "baseline_visit": Rule(
        baseline_visit, "plot.edit",
        gettext_lazy("Count new trees into plots"),
        gettext_lazy("once replacements are planted in a block with plots; the date is 28 days after"),
        gettext_lazy("a plot of the block was visited since"),
    ),
}  # fmt: skip
