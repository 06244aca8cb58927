"""Every edge of what can be estimated has a stated answer: from the estimator, and from the command."""

import json
import re
from pathlib import Path

import pytest
from django.core.management import call_command

from monitoring.estimators import rows
from monitoring.estimators.count_file import read_counts
from monitoring.estimators.round_estimates import round_estimates
from projects.reasons import REASONS
from tests.estimators.edge_cases import CASES, TARGET, Edge

NUMBERS = ("value", "lower", "upper", "se", "deff")


@pytest.fixture
def run(tmp_path, capsys):
    """Run the command on a text; returns what it printed."""

    def told(text, *options):
        path = tmp_path / "counts.csv"
        path.write_text(text, encoding="utf-8")
        call_command("estimate", str(path), "--target", str(TARGET), *options)
        return capsys.readouterr()

    return told


def held_against(found: dict, edge: Edge) -> None:
    """Compare the headlines, and rows of other methods, with what the case states."""
    heads = {(row["scope"], row["key"], row["measure"]): row for row in found.values() if row["is_headline"]}
    for subject, expected in edge.rows.items():
        agree(heads[subject], expected)
    for (subject, method), expected in edge.other_methods.items():
        agree(found[(*subject, method)], expected)
    for subject in edge.absent:
        assert subject not in heads


def agree(row: dict, expected: dict) -> None:
    for name, told in expected.items():
        value = told() if callable(told) else told
        if name in NUMBERS and value is not None:
            assert row[name] == pytest.approx(value, abs=5e-4 * max(1, abs(value))), name
        else:
            assert row[name] == value, name


def by_method(found: list[dict]) -> dict:
    return {(row["scope"], row["key"], row["measure"], row["method"]): row for row in found}


@pytest.mark.parametrize("edge", CASES, ids=lambda edge: edge.name)
def test_the_estimator_answers(edge):
    (only,) = read_counts(edge.text).rounds
    found = [{name: getattr(row, name) for name in row.__slots__} for row in round_estimates(only.table)]
    held_against(by_method(found), edge)
    for row in found:
        points = [row[name] is None for name in ("value", "lower", "upper", "lower_decision", "upper_claim")]
        assert len(set(points)) == 1, "a point is never given without its interval"
        if row["value"] is not None:
            assert row["lower"] <= row["value"] <= row["upper"]


@pytest.mark.parametrize("edge", CASES, ids=lambda edge: edge.name)
def test_the_command_answers_in_rows_and_words(edge, run):
    found = json.loads(run(edge.text, "--format", "json").out)
    held_against(by_method(found), edge)
    heads = {(row["scope"], row["key"], row["measure"]): row for row in found if row["is_headline"]}
    for subject, (code, step) in edge.outcomes.items():
        outcome = heads[subject]["outcome"]
        assert (outcome["code"], outcome["next_step"]) == (code, step)
    told = run(edge.text).out
    for words in edge.words:
        assert words in told
    for words in edge.unsaid:
        assert words not in told


def test_a_missing_plot_is_said_beside_the_figures(run):
    (edge,) = (case for case in CASES if case.name == "a missing plot")
    assert "Plots that nobody could count: 1. The figures rest on the others." in run(edge.text).err


def test_every_reason_code_has_words():
    source = Path(rows.__file__).read_text(encoding="utf-8")
    between = source.partition("# Reasons:")[2].partition("@dataclass")[0]
    codes = re.findall(r'^[A-Z_]+ = "(\w+)"', between, flags=re.M)
    assert len(codes) > 15
    assert [code for code in codes if code not in REASONS] == []


def with_bare_plots(name: str, other: str = "") -> str:
    """Four plots with a baseline and, where asked, two without one."""
    known = "".join(
        f"{name},A,{plot},oak,20,{alive},{20 - alive},,{1 if plot == 2 else ''}\n"
        for plot, alive in enumerate({"1": (18, 20, 16, 12), "2": (15, 19, 15, 8)}[name])
    )
    return known + "".join(f"{name},A,{plot},oak,,{plot},,none,\n" for plot in other)


@pytest.mark.parametrize(("before", "after"), [("89", "89"), ("", "89"), ("9", "8")])
def test_plots_without_a_baseline_touch_neither_change_nor_bounds(run, before, after):
    head = "round,block,plot,species,planted,alive,dead,baseline,origin_uncertain\n"
    told = [
        json.loads(run(head + with_bare_plots("1", one) + with_bare_plots("2", two), "--format", "json").out)
        for one, two in (("", ""), (before, after))
    ]
    wanted = ("survival_change", "interval_survival", "survival_worst_case", "survival_uncertain_natural")
    clean, bare = ([row for row in each if row["measure"] in wanted] for each in told)
    assert {row["measure"] for row in clean} == set(wanted)
    for one, two in zip(clean, bare, strict=True):
        assert one | {"reason": ""} == two | {"reason": ""}
