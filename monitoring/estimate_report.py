"""The figures of a round as lines of text for a terminal."""

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.estimators import outcome as outcomes
from monitoring.estimators import rows
from monitoring.estimators.outcome import Outcome
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from projects.reasons import reason_words

HEADINGS = ("scope", "key", "measure", "method", "value", "se", "lower", "upper", "deff", "plots", "trees")
SHARES = (
    rows.SURVIVAL, rows.SURVIVAL_IF_FOUND, rows.SURVIVAL_REMOVED_ALIVE, rows.SHARE_OF_VISIBLE_SPOTS,
    rows.SPOT_OCCUPANCY, rows.PLOTS_STOCKED,
)  # fmt: skip


def report_lines(
    estimates: Iterable[EstimateRow],
    outcome_of: Mapping[tuple[str, str], Outcome],
    settings: EstimateSettings,
) -> list[str]:
    """A table of all rows, the headline of each figure starred, then outcomes and how to read it."""
    estimates = list(estimates)
    cells = [list(HEADINGS), *(_cells(row) for row in estimates)]
    widths = [max(len(line[column]) for line in cells) for column in range(len(HEADINGS))]
    table = [_aligned(line, widths) for line in cells]
    told = (row for row in estimates if row.is_headline and row.reason)
    notes = dict.fromkeys(f"{row.scope} {row.key}: {reason_words(row.reason)}" for row in told)
    judged = ((scope, key, outcome) for (scope, key), outcome in outcome_of.items() if outcome.code)
    words = [f"{scope} {key}: {outcome_words(outcome)}" for scope, key, outcome in judged]
    reading = _(
        "* the headline of its figure. Limits are two-sided at %(level)s %%. Not found counts as not alive; "
        "survival_if_found counts it as alive. Outcomes use one-sided limits at %(decision)s %%."
    ) % {"level": f"{settings.level * 100:g}", "decision": f"{settings.decision_level * 100:g}"}
    return [*table, "", *notes, *words, reading]


def _cells(row: EstimateRow) -> list[str]:
    digits = 4 if row.measure in SHARES else 1
    figures = [_number(figure, digits) for figure in (row.value, row.se, row.lower, row.upper)]
    if row.status != rows.OK:
        figures[0] = _("not estimable")
    star = "*" if row.is_headline else ""
    return [
        row.scope, row.key, row.measure, row.method + star, *figures, _number(row.deff, 2), str(row.n_plots),
        str(row.n_trees),
    ]  # fmt: skip


def _number(figure: float | None, digits: int) -> str:
    return "" if figure is None else f"{figure:.{digits}f}"


def _aligned(line: Iterable[str], widths: Iterable[int]) -> str:
    return "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()


def outcome_words(outcome: Outcome) -> str:
    """An outcome as one sentence."""
    target = f"{outcome.target * 100:g}"
    if outcome.code == outcomes.MEETS_TARGET:
        return _("meets the target of %(target)s %%.") % {"target": target}
    if outcome.code == outcomes.FALLS_SHORT:
        return _("falls short of the target of %(target)s %%.") % {"target": target}
    if outcome.code == outcomes.SO_FAR:
        return _("so far, before the age of the check.")
    return _("not settled yet against %(target)s %%: %(step)s") % {"target": target, "step": _step(outcome)}


def _step(outcome: Outcome) -> str:
    if outcome.next_step == outcomes.GO_BACK_AND_LOOK:
        return _("go back and look for the trees not found.")
    if outcome.more_plots is None:
        return _("too close to the target for more plots to settle.")
    return ngettext(
        "about %(count)s more plot would be likely to settle it.",
        "about %(count)s more plots would be likely to settle it.",
        outcome.more_plots,
    ) % {"count": outcome.more_plots}
