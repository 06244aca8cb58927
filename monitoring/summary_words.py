"""Sentences of a season summary, built when it is shown, from its frozen rows."""

from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring import result_words
from projects import figures

Row = dict[str, Any]


def changed_words(changed: Row | None) -> str:
    """What changed since the last edition, corrections included."""
    if changed is None:
        return _("This is the first edition for this season.")
    parts = [_("Since edition %(n)s:") % {"n": changed["edition"]}]
    parts += [
        words for words in (planted_words(changed), survival_words(changed), count_words(changed)) if words
    ]
    if len(parts) == 1:
        parts.append(
            _("plots, causes, costs or plans changed, but neither what was planted nor the survival figure.")
        )
    return " ".join(parts)


def planted_words(changed: Row) -> str:
    before, after = changed["planted"]
    if before == after:
        return ""
    return _("trees planted went from %(before)s to %(after)s;") % {
        "before": figures.quantity(before), "after": figures.quantity(after),
    }  # fmt: skip


def survival_words(changed: Row) -> str:
    before, after = changed["survival"]
    if before == after:
        return ""
    return _("survival went from %(before)s to %(after)s;") % {
        "before": share_words(before), "after": share_words(after),
    }  # fmt: skip


def share_words(figure: Row | None) -> str:
    """A survival figure with its limits and outcome."""
    if figure is None:
        return _("no figure")
    words = f"{figures.percent(figure['value'])} ({figures.interval_words(figure['lower'], figure['upper'])})"
    outcome = figure.get("outcome_claim")
    return f"{words}, {result_words.said(result_words.OUTCOMES, outcome)}" if outcome else words


def count_words(changed: Row) -> str:
    visits, corrections, decisions = (changed[name] for name in ("n_visits", "n_corrections", "n_decisions"))
    parts = []
    if visits:
        parts.append(
            ngettext("%(n)s new count", "%(n)s new counts", visits) % {"n": figures.quantity(visits)}
        )
    if corrections:
        words = ngettext(
            "%(n)s correction of an earlier count", "%(n)s corrections of earlier counts", corrections
        )
        parts.append(words % {"n": figures.quantity(corrections)})
    if decisions:
        words = ngettext("%(n)s doubt settled", "%(n)s doubts settled", decisions)
        parts.append(words % {"n": figures.quantity(decisions)})
    return ", ".join(parts) + "." if parts else ""
