"""`manage.py estimate`: figures from a plain file, and a plain word about every fault in it."""

import json
import re
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from monitoring.estimators import count_columns

LOHR = """block,plot,species,planted,alive,dead,not_found
hill,1,seedling,1,0,1,0
hill,2,,0,0,0,0
hill,3,seedling,8,1,7,0
hill,4,seedling,2,2,0,0
hill,5,seedling,76,10,66,0
hill,6,seedling,60,15,45,0
hill,7,seedling,25,3,22,0
hill,8,seedling,2,2,0,0
hill,9,seedling,1,1,0,0
hill,10,seedling,31,27,4,0
"""
KEYS = {
    "scope",
    "key",
    "measure",
    "method",
    "value",
    "se",
    "lower",
    "upper",
    "level",
    "n_plots",
    "n_trees",
    "deff",
}
HEAD = "block,plot,species,planted,alive,dead\n"


@pytest.fixture
def estimate(tmp_path, capsys):
    """Run the command on a text; returns what it printed."""

    def run(text, *options):
        path = tmp_path / "counts.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        call_command("estimate", str(path), *options)
        return capsys.readouterr()

    return run


@pytest.fixture
def rows(estimate):
    def run(text, *options):
        return json.loads(estimate(text, "--json", *options).out)

    return run


def one(rows, scope, method, measure="survival", key=None):
    (row,) = (
        r for r in rows
        if (r["scope"], r["method"], r["measure"]) == (scope, method, measure) and key in (None, r["key"])
    )  # fmt: skip
    return row


def test_lohr_seedlings_from_a_file(rows):
    """Lohr, Sampling: Design and Analysis, Example 4.5: 0.296, SE 0.115, design effect 13.1."""
    found = rows(LOHR)
    row = one(found, "block", "ratio_logit_t")
    assert set(row) >= KEYS
    assert (round(row["value"], 3), round(row["se"], 3), round(row["deff"], 1)) == (0.296, 0.115, 13.1)
    assert (row["n_plots"], row["n_trees"], row["level"]) == (10, 206, 0.95)
    headline = one(found, "block", "beta_binomial_posterior")
    assert headline["lower"] < headline["value"] < headline["upper"]


def test_the_command_needs_no_database(rows, django_db_blocker):
    with django_db_blocker.block():
        assert rows(LOHR)


def test_the_table_names_methods_stars_headlines_and_says_the_outcome(estimate):
    told = estimate(LOHR, "--target", "0.8").out
    assert "beta_binomial_posterior*" in told
    assert "0.2961" in told
    assert "falls short of the target of 80 %" in told


def test_the_level_can_be_chosen(rows):
    wide, narrow = (one(rows(LOHR, "--level", level), "block", "ratio_logit_t") for level in ("0.99", "80%"))
    assert (wide["level"], narrow["level"]) == (0.99, 0.8)
    assert wide["lower"] < narrow["lower"] < narrow["upper"] < wide["upper"]


def test_the_outcome_stands_in_the_headline_row(rows):
    headline = one(rows(LOHR, "--target", "0.8"), "block", "beta_binomial_posterior")
    assert headline["outcome"]["code"] == "falls_short"


def test_blocks_are_weighted_by_trees_planted(rows):
    text = "block,plot,species,planted,alive,dead,block_planted\n" + "".join(
        f"{block},{plot},oak,{planted},{alive},{planted - alive},{whole}\n"
        for block, whole, plots in (
            ("A", 9600, [(10, 8), (10, 9), (10, 7), (10, 10)]),
            ("B", 4400, [(8, 3), (9, 5), (8, 4)]),
        )
        for plot, (planted, alive) in enumerate(plots)
    )
    row = one(rows(text), "project", "stratified_logit_t")
    assert row["value"] == pytest.approx(0.7337, abs=5e-5)


def test_block_plots_shrink_the_error_of_a_small_block(rows):
    lines = [f"A,{plot},oak,20,{alive},{20 - alive}" for plot, alive in enumerate([18, 12, 15, 20, 9])]
    whole = "\n".join(
        ["block,plot,species,planted,alive,dead,block_plots", *(line + ",20" for line in lines)]
    )
    endless = HEAD + "\n".join(lines)
    small, large = (one(rows(text), "block", "ratio_logit_t")["se"] for text in (whole, endless))
    assert small == pytest.approx(large * (1 - 5 / 20) ** 0.5)


def test_what_is_not_counted_is_not_found_by_default(rows):
    found = rows(HEAD + "A,1,oak,10,6,2\nA,2,oak,10,7,1\nA,3,oak,10,8,2\n")
    headlines = {
        row["measure"]: row["value"] for row in found if row["is_headline"] and row["scope"] == "block"
    }
    assert headlines == {"survival": pytest.approx(0.7), "survival_if_found": pytest.approx(25 / 30)}


def test_dead_may_be_given_as_dead_stems_and_empty_spots(rows):
    split = "block,plot,species,planted,alive,dead_stem,empty_spot\nA,1,oak,10,6,1,2\nA,2,oak,10,7,1,1\n"
    joined = HEAD + "A,1,oak,10,6,3\nA,2,oak,10,7,2\n"
    assert rows(split) == rows(joined)


def test_removed_and_not_assessed_trees_leave_the_denominator(rows):
    text = (
        "block,plot,species,planted,alive,dead,removed,not_assessed\nA,1,oak,10,6,1,3,0\nA,2,oak,10,5,2,0,3\n"
    )
    found = rows(text)
    assert one(found, "block", "ratio_logit_t")["value"] == pytest.approx(11 / 14)
    removed = one(found, "block", "ratio_logit_t", "survival_removed_alive")
    assert removed["value"] == pytest.approx(14 / 17)


def test_seed_spots_are_told_as_occupancy(rows):
    text = "block,plot,species,planted,alive,dead,unit\nA,1,oak,10,6,4,seed_spot\nA,2,oak,10,5,5,seed spot\n"
    assert {row["measure"] for row in rows(text)} == {"spot_occupancy"}


def test_blocks_of_seed_spots_are_weighted_by_the_spots_on_their_lines(rows):
    text = "block,plot,species,planted,alive,dead,unit,block_planted\n" + "".join(
        f"{block},{plot},oak,10,{alive},{10 - alive},seed_spot,{whole}\n"
        for block, whole, lives in (("A", 300, (9, 7, 8)), ("B", 100, (3, 5, 4)))
        for plot, alive in enumerate(lives)
    )
    row = one(rows(text), "project", "stratified_logit_t", "spot_occupancy")
    assert row["value"] == pytest.approx(0.75 * 0.8 + 0.25 * 0.4)


def test_semicolons_headings_in_capitals_and_a_byte_order_mark_are_read(rows):
    text = "\ufeffBlock;Plot;Species;Planted;Living;Dead\r\nA;1;oak;10;6;4\r\nA;2;oak;10;7;3\r\n"
    assert rows(text) == rows(HEAD + "A,1,oak,10,6,4\nA,2,oak,10,7,3\n")


def test_more_alive_than_planted_is_capped_flagged_and_said(estimate):
    told = estimate(HEAD + "A,1,oak,10,12,0\nA,2,oak,10,7,3\n", "--json")
    row = one(json.loads(told.out), "block", "ratio_logit_t")
    assert (row["n_alive"], row["n_flagged"]) == (17, 1)
    assert "Line 2" in told.err and "12 alive" in told.err


def test_a_block_said_to_hold_fewer_trees_than_its_plots_is_told(estimate):
    head = HEAD.replace("dead", "dead,block_planted")
    told = estimate(
        head + "A,1,oak,10,6,4,19\nA,2,oak,10,7,3,19\nB,3,oak,10,7,3,10\nB,4,,0,0,0,10\n", "--json"
    )
    assert 'Line 2: "block_planted" is 19, fewer than the trees planted in the plots' in told.err
    assert told.err.count("block_planted") == 1
    assert json.loads(told.out)


def test_a_column_that_is_not_known_is_named(estimate):
    told = estimate(HEAD.replace("dead", "dead,notfond") + "A,1,oak,10,6,4,0\nA,2,oak,10,7,3,0\n")
    assert '"notfond"' in told.err


def test_every_fault_is_told_at_once_with_line_column_and_remedy(estimate):
    with pytest.raises(CommandError) as refused:
        estimate(
            HEAD + "A,1,oak,ten,4,1\n,2,oak,5,-4,0\nA,3,,5,4,1\nA,4,oak,5,2.5,1\nA,5,oak,5,4\nA,5,oak,5,4,1\n"
        )
    told = str(refused.value).splitlines()
    assert told[0].startswith('Line 2: "planted" is "ten"; write a whole number')
    assert told[1].startswith('Line 3: "block" is empty')
    assert told[2].startswith('Line 3: "alive" is "-4"')
    assert told[3].startswith('Line 4: "species" is empty')
    assert told[4].startswith('Line 5: "alive" is "2.5"')
    assert told[5].startswith('Line 7: Plot "5" already has a line')
    assert len(told) == 6


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no counts"),
        (HEAD, "holds no counts"),
        ("plot,species\n1,oak\n", 'column "block" is missing'),
        (HEAD.replace("dead", "alive") + "A,1,oak,1,1,1\n", 'column "alive" stands twice'),
        (b"\xff\xfe\x00b\x00l", "not readable as text"),
        (HEAD + "A,1,oak,5,4,1,9\n", "More cells than headings"),
        (HEAD + "A,1,oak,99999999999,4,1\n", "whole number"),
        (HEAD + "A,1,oak,nan,4,1\n", "whole number"),
        (
            HEAD.replace("dead", "block_plots") + "A,1,oak,5,4,1\nA,2,oak,5,4,1\n",
            "fewer than the plots visited",
        ),
        (HEAD.replace("dead", "block_planted") + "A,1,oak,5,4,90\nA,2,oak,5,4,80\n", "make them the same"),
        (HEAD.replace("dead", "plot_weight") + "A,1,oak,5,4,0\n", "a number above 0"),
        (HEAD.replace("dead", "observed_on") + "A,1,oak,5,4,01/02/2025\n", "YYYY-MM-DD"),
        (HEAD.replace("dead", "unit") + "A,1,oak,5,4,bush\n", "tree, seed_spot or seed"),
        (HEAD.replace("dead", "census") + "A,1,oak,5,4,maybe\n", "yes or no"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_in_words(estimate, text, words):
    with pytest.raises(CommandError, match=words):
        estimate(text)


def test_a_missing_file_is_named():
    with pytest.raises(CommandError, match=r"Cannot read nowhere\.csv"):
        call_command("estimate", "nowhere.csv")


@pytest.mark.parametrize(
    "option", [("--level", "2"), ("--level", "x"), ("--target", "0"), ("--level", "0.3")]
)
def test_a_level_or_target_outside_its_range_is_refused(estimate, option):
    with pytest.raises(CommandError):
        estimate(LOHR, *option)


def test_a_census_from_a_file_is_exact(rows):
    text = "block,plot,species,planted,alive,dead,census\nA,1,oak,60,48,12,yes\n"
    row = one(rows(text), "block", "census")
    assert (row["value"], row["lower"], row["upper"], row["se"]) == (0.8, 0.8, 0.8, 0.0)


def test_the_file_in_the_readme_is_read_as_it_stands(estimate):
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (sample,) = re.findall(r"```\n(block,plot,.*?)```", readme, flags=re.S)
    told = estimate(sample, "--target", ".8")
    assert told.err == ""
    assert "block North, survival: not settled yet against 80 %" in told.out
    for column in re.findall(r"`(\w+)`", readme[readme.index(sample) :].split("\n\n")[1]):
        assert column in (*count_columns.KNOWN, "csv", "json"), column
