"""Baselines and lines of a round, put together by their numbers."""

import numpy as np

from monitoring.selectors.count_columns import per_baseline
from monitoring.selectors.count_rows import BASELINE_COLUMNS, COUNT_COLUMNS, LINE_COLUMNS


def table(names, *rows):
    return dict(zip(names, np.array(rows, dtype=np.int64).reshape(len(rows), len(names)).T, strict=True))


def baseline(pk, visit):
    return (pk, visit, 1, 1, 20, 0, 0, 1)


def line(pk, visit, alive):
    return (pk, visit, alive, 0, 0, 0, 0)


def test_lines_of_one_baseline_are_added_and_a_line_written_in_another_plot_counts_nowhere():
    baselines = table(BASELINE_COLUMNS, baseline(9, 2), baseline(4, 1))
    lines = table(LINE_COLUMNS, line(9, 2, 5), line(4, 1, 7), line(4, 1, 2), line(9, 1, 11), line(12, 2, 3))
    found = per_baseline(baselines, lines, {9: 6, 5: 1})
    assert found["baseline"].tolist() == [4, 9]
    assert found["alive"].tolist() == [9, 5]
    assert found["counted"].tolist() == [1, 1]
    assert found["removed"].tolist() == [0, 6]


def test_a_baseline_without_a_line_is_there_uncounted_and_no_baseline_gives_no_row():
    none = table(LINE_COLUMNS)
    found = per_baseline(table(BASELINE_COLUMNS, baseline(4, 1)), none, {})
    assert found["counted"].tolist() == [0]
    assert all(found[name].tolist() == [0] for name in COUNT_COLUMNS)
    assert per_baseline(table(BASELINE_COLUMNS), table(LINE_COLUMNS, line(4, 1, 7)), {})["alive"].size == 0
