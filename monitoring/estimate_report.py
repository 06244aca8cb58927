"""The figures of a file of counts as text for a terminal, as CSV and as JSON."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, fields
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.calc.spreadsheet_cells import harmless
from monitoring.estimators import outcome as outcomes
from monitoring.estimators import rows
from monitoring.estimators.change_rows import CHANGE_MEASURES
from monitoring.estimators.count_file_figures import RoundFigures
from monitoring.estimators.outcome import Outcome
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from projects.reasons import reason_words

HEADINGS = ("scope", "key", "measure", "method", "value", "se", "lower", "upper", "deff", "plots", "trees")
ROW_FIELDS = tuple(field.name for field in fields(EstimateRow))
OUTCOME_FIELDS = tuple(field.name for field in fields(Outcome))
PER_HECTARE = (rows.STOCKING, rows.STOCKING_PLANTED, rows.STOCKING_NATURAL, rows.STOCKING_CAPPED)
IN_WHOLE_UNITS = (*PER_HECTARE, rows.SEEDLINGS_PER_100_SEEDS)


def outcome_of(row: EstimateRow, figures: RoundFigures) -> Outcome | None:
    """The outcome that stands beside a row: headlines only."""
    return figures.outcomes.get((row.scope, row.key, row.measure)) if row.is_headline else None


def since(row: EstimateRow, figures: RoundFigures) -> str:
    """The round a change is taken from; empty for a figure of one round."""
    return figures.since if row.measure in CHANGE_MEASURES else ""


def as_json(every: Iterable[RoundFigures]) -> str:
    """A list of rows, each with its round, and with its outcome where it was held against a target."""
    return json.dumps([_json_row(row, part) for part in every for row in part.rows], indent=1)


def _json_row(row: EstimateRow, part: RoundFigures) -> dict[str, Any]:
    outcome = outcome_of(row, part)
    return {"round": part.name, "since": since(row, part), **asdict(row)} | (
        {"outcome": asdict(outcome)} if outcome else {}
    )


def as_csv(every: Iterable[RoundFigures]) -> str:
    """One line a row: its round, all fields of the row, and its outcome (RFC 4180, empty where unknown)."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["round", "since", *ROW_FIELDS, *(f"outcome_{name}" for name in OUTCOME_FIELDS)])
    for part in every:
        for row in part.rows:
            outcome = outcome_of(row, part)
            told = asdict(outcome) if outcome else {}
            cells = [
                part.name,
                since(row, part),
                *asdict(row).values(),
                *(told.get(name) for name in OUTCOME_FIELDS),
            ]
            writer.writerow([_cell(cell) for cell in cells])
    return text.getvalue()


def _cell(cell: Any) -> Any:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    return harmless(cell) if isinstance(cell, str) else cell


def report_lines(every: Sequence[RoundFigures], settings: EstimateSettings) -> Iterator[str]:
    """For each round a table of its rows, headlines starred, then what is to be told; last, how to read it."""
    for part in every:
        if part.since:
            yield _("Round %(name)s, changes since %(since)s") % {"name": part.name, "since": part.since}
        elif part.name:
            yield _("Round %(name)s") % {"name": part.name}
        yield from _table(part.rows)
        yield ""
        yield from _told(part)
    yield _(
        "* the headline of its figure. Limits are two-sided at %(level)s %%. Not found counts as not alive; "
        "survival_if_found counts it as alive. Outcomes use one-sided limits at %(decision)s %%."
    ) % {"level": f"{settings.level * 100:g}", "decision": f"{settings.decision_level * 100:g}"}


def _table(estimates: Sequence[EstimateRow]) -> Iterator[str]:
    cells = [list(HEADINGS), *(_cells(row) for row in estimates)]
    widths = [max(len(line[column]) for line in cells) for column in range(len(HEADINGS))]
    return (_aligned(line, widths) for line in cells)


def _told(part: RoundFigures) -> Iterator[str]:
    heads = [row for row in part.rows if row.is_headline]
    yield from dict.fromkeys(
        f"{row.scope} {row.key}: {reason_words(row.reason)}" for row in heads if row.reason
    )
    for row in heads:
        outcome = outcome_of(row, part)
        if outcome and (outcome.code or row.status == rows.OK):
            yield f"{row.scope} {row.key}, {row.measure}: {outcome_words(outcome, row.measure)}"


def _cells(row: EstimateRow) -> list[str]:
    digits = 1 if row.measure in IN_WHOLE_UNITS else 4
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


def outcome_words(outcome: Outcome, measure: str = rows.SURVIVAL) -> str:
    """An outcome as one sentence."""
    target = {"target": _target(outcome.target, measure)}
    if outcome.code == outcomes.MEETS_TARGET:
        return _("meets the target of %(target)s.") % target
    if outcome.code == outcomes.FALLS_SHORT:
        return _("falls short of the target of %(target)s.") % target
    if outcome.code == outcomes.SO_FAR:
        return _("so far, before the age of the check.")
    if outcome.code == outcomes.NO_OUTCOME:
        return _("no outcome: trees of several planting seasons, or of unknown age, stand together.")
    return _("not settled yet against %(target)s: %(step)s") % (target | {"step": _step(outcome)})


def _target(target: float, measure: str) -> str:
    if measure in PER_HECTARE:
        return _("%(trees)s trees per hectare") % {"trees": f"{target:g}"}
    return f"{target * 100:g} %"


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
