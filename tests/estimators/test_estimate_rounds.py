"""`manage.py estimate` on files of several rounds, with natural trees, areas, ages and plots not counted."""

import csv
import io
import json
import time

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from monitoring.estimators.count_file import read_counts

NAMED = """round,observed_on,block,plot,species,planted,alive,dead
spring,2025-04-01,A,1,oak,10,9,1
spring,2025-04-02,A,2,oak,10,8,2
spring,2025-04-03,A,3,oak,10,10,0
autumn,2024-10-01,A,1,oak,10,10,0
autumn,2024-10-02,A,2,oak,10,9,1
autumn,2024-10-03,A,3,oak,10,10,0
"""
AREAS = """block,plot,species,planted,alive,dead,natural,plot_area_m2,target_per_ha,net_area_ha
A,1,oak,5,5,0,1,50,1200,4
A,2,oak,5,4,1,0,50,1200,4
A,3,oak,5,2,3,4,50,1200,4
B,1,oak,5,5,0,2,50,1000,1
B,2,oak,5,3,2,0,50,1000,1
"""


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
        return json.loads(estimate(text, "--format", "json", *options).out)

    return run


def headline(rows, measure, scope="block", key="A", round=""):
    (row,) = (
        r for r in rows
        if r["is_headline"] and (r["round"], r["scope"], r["key"], r["measure"]) == (round, scope, key, measure)
    )  # fmt: skip
    return row


def shares(rows, measure="survival"):
    """The figure of block A by round, in the order of the rounds."""
    return [
        (r["round"], r["value"]) for r in rows
        if r["is_headline"] and (r["scope"], r["measure"]) == ("block", measure)
    ]  # fmt: skip


def test_named_rounds_come_in_the_order_of_their_days(rows):
    assert shares(rows(NAMED)) == [("autumn", pytest.approx(29 / 30)), ("spring", pytest.approx(0.9))]


def test_named_rounds_without_days_come_in_the_order_of_their_names(rows):
    text = "round,block,plot,species,planted,alive,dead\n" + "".join(
        f"round {number},A,{plot},oak,10,{alive},{10 - alive}\n"
        for number, alive in ((10, 5), (9, 7))
        for plot in (1, 2)
    )
    assert shares(rows(text)) == [("round 9", 0.7), ("round 10", 0.5)]


def test_without_names_a_round_begins_when_a_line_is_counted_again(rows, estimate):
    text = NAMED.replace("round,", "", 1).replace("spring,", "").replace("autumn,", "")
    found = rows(text)
    assert shares(found) == [
        ("2024-10-01/2024-10-03", pytest.approx(29 / 30)),
        ("2025-04-01/2025-04-03", pytest.approx(0.9)),
    ]
    assert "Rounds told apart by the days of the counts: 2024-10-01/2024-10-03, " in estimate(text).err


def test_two_species_of_a_plot_counted_on_two_days_are_one_round():
    text = (
        "block,plot,species,planted,alive,dead,date\n"
        "A,1,oak,9,8,1,2025-04-01\nA,1,birch,9,7,2,2025-04-02\nA,2,oak,9,9,0,2025-04-09\n"
    )
    assert len(read_counts(text).rounds) == 1


def test_a_plot_keeps_its_code_through_all_rounds():
    autumn, spring = read_counts(NAMED).rounds
    assert autumn.plots == spring.plots == ("A / 1", "A / 2", "A / 3")
    assert autumn.table.plot.tolist() == spring.table.plot.tolist() == [0, 1, 2]
    assert (spring.first_day.isoformat(), spring.last_day.isoformat()) == ("2025-04-01", "2025-04-03")


def test_a_fact_of_a_block_given_in_one_round_holds_for_the_others():
    text = (
        "round,block,plot,species,planted,alive,dead,block_planted\n"
        "1,A,1,oak,9,8,1,300\n1,B,1,oak,9,8,1,100\n2,A,1,oak,9,7,2,\n2,B,1,oak,9,7,2,120\n3,B,1,oak,9,7,2,\n"
    )
    planted = [one.table.blocks.planted.tolist() for one in read_counts(text).rounds]
    assert planted == [[300, 100], [300, 120], [300, -1]]  # B was stated in two ways


def test_natural_trees_enter_stocking_and_not_survival(rows):
    found = rows(AREAS)
    assert headline(found, "survival")["value"] == pytest.approx(11 / 15)
    per_ha = 10_000 / 150
    assert headline(found, "stocking_planted")["value"] == pytest.approx(11 * per_ha)
    assert headline(found, "stocking_natural")["value"] == pytest.approx(5 * per_ha)
    assert headline(found, "stocking")["value"] == pytest.approx(16 * per_ha)
    capped = headline(found, "stocking_capped")
    assert capped["value"] == pytest.approx((6 + 4 + 6) * per_ha)  # 1,200 to the hectare: 6 a plot
    assert headline(found, "plots_stocked")["value"] == pytest.approx(2 / 3)
    whole = headline(found, "stocking", "project", "all")
    assert whole["value"] == pytest.approx(0.8 * 16 * per_ha + 0.2 * 10 * 100)


def test_stocking_is_held_against_the_target_of_its_block(estimate, rows):
    dense = AREAS.replace(",1200,", ",200,").replace(",1000,", ",9000,")
    assert headline(rows(dense), "stocking")["outcome"]["code"] == "meets_target"
    told = estimate(dense).out
    assert "block A, stocking: meets the target of 200 trees per hectare." in told
    assert "block B, stocking: falls short of the target of 9000 trees per hectare." in told


def test_counts_of_natural_trees_that_stopped_at_a_cap_are_said(estimate):
    told = estimate(AREAS.replace("2,3,4,50", "2,3,20+,50"), "--json")
    assert headline(json.loads(told.out), "stocking_natural")["value"] == pytest.approx(21 * 10_000 / 150)
    assert "up to a cap" in told.err


def test_plots_without_an_area_are_left_out_of_stocking_and_said(estimate):
    told = estimate(AREAS.replace("A,3,oak,5,2,3,4,50", "A,3,oak,5,2,3,4,"), "--json")
    found = json.loads(told.out)
    assert headline(found, "stocking")["n_plots"] == 2
    assert headline(found, "survival")["n_plots"] == 3
    assert "left out of stocking: 1" in told.err


def test_no_area_no_stocking(rows):
    text = "block,plot,species,planted,alive,dead,natural\nA,1,oak,9,8,1,4\nA,2,oak,9,8,1,0\n"
    assert {row["measure"] for row in rows(text)} == {"survival", "survival_if_found"}


def test_the_one_plot_of_a_census_has_the_area_of_its_block(rows):
    text = (
        "block,plot,species,planted,alive,dead,natural,census,net_area_ha,plot_area_m2\n"
        "A,1,oak,90,60,30,15,yes,0.5,\nB,1,oak,9,8,1,0,no,2,50\nB,2,oak,9,8,1,0,no,2,50\n"
    )
    row = headline(rows(text), "stocking")
    assert (row["method"], row["value"], row["lower"], row["upper"]) == ("census", 150, 150, 150)


def test_a_destroyed_plot_counts_with_nothing_alive_and_a_missing_one_not_at_all(estimate):
    text = (
        "block,plot,species,planted,alive,dead,status\n"
        "A,1,oak,10,9,1,counted\nA,2,oak,10,8,2,\nA,3,oak,10,,,destroyed\nA,4,oak,10,,,missing\nA,5,,,,,missing\n"
    )
    told = estimate(text, "--json")
    row = headline(json.loads(told.out), "survival")
    assert (row["value"], row["n_plots"], row["n_trees"]) == (pytest.approx(17 / 30), 3, 30)
    assert headline(json.loads(told.out), "survival_if_found")["value"] == row["value"]
    assert "nobody could count: 2" in told.err


def test_trees_without_a_baseline_enter_stocking_only(rows):
    text = (
        "block,plot,species,planted,alive,dead,baseline,plot_area_m2\n"
        "A,1,oak,10,9,1,,100\nA,2,oak,10,8,2,at_planting,100\nA,2,ash,,5,,none,100\nA,3,oak,10,7,3,later,100\n"
    )
    found = rows(text)
    assert headline(found, "survival")["n_trees"] == 30
    assert headline(found, "survival")["n_flagged"] == 0
    assert headline(found, "stocking")["value"] == pytest.approx(29 * 10_000 / 300)


def test_visible_spots_give_a_measure_of_their_own(rows):
    text = (
        "block,plot,species,planted,alive,dead,baseline\n"
        "A,1,oak,10,9,1,visible_spots\nA,2,oak,10,8,2,rebuilt\nA,3,oak,10,7,3,visible spots\n"
    )
    found = rows(text, "--target", "0.5")
    row = headline(found, "share_of_visible_spots")
    assert row["value"] == pytest.approx(0.8)
    assert not [row for row in found if row.get("outcome", {}).get("code")]


def test_mixed_planting_seasons_have_no_outcome(estimate):
    text = "block,plot,species,planted,alive,dead,planting_season\n" + "".join(
        f"{block},{plot},oak,20,19,1,{season}\n"
        for block, seasons in (("A", ("2023", "2024")), ("B", ("2024", "2024")))
        for plot in range(1, 9)
        for season in seasons[plot % 2 :][:1]
    )
    told = estimate(text, "--target", "0.7").out
    assert "block A, survival: no outcome: trees of several planting seasons" in told
    assert "block B, survival: meets the target of 70 %." in told


def test_before_the_check_age_figures_are_so_far(estimate):
    text = "block,plot,species,planted,alive,dead,planted_on,observed_on\n" + "".join(
        f"A,{plot},oak,20,19,1,2024-02-01,2026-03-01\n" for plot in range(1, 9)
    )
    for months, words in ((24, "meets the target"), (26, "so far, before the age of the check")):
        assert (
            f"block A, survival: {words}" in estimate(text, "--target", "0.7", "--check-age", str(months)).out
        )
    undated = text.replace("2024-02-01", "")
    assert "of unknown age" in estimate(undated, "--target", "0.7", "--check-age", "24").out


def test_csv_holds_every_row_with_its_round_method_and_outcome(estimate, rows):
    told = list(csv.DictReader(io.StringIO(estimate(NAMED, "--format", "csv", "--target", "0.5").out)))
    every = rows(NAMED, "--target", "0.5")
    assert len(told) == len(every) > 20
    for cells, row in zip(told, every, strict=True):
        for name in ("round", "scope", "key", "measure", "method", "status", "reason"):
            assert cells[name] == row[name]
        assert (float(cells["value"]) if cells["value"] else None) == row["value"]
        assert cells["is_headline"] == ("true" if row["is_headline"] else "false")
        assert cells["outcome_code"] == row.get("outcome", {}).get("code", "")
    assert {cells["outcome_code"] for cells in told} == {"", "meets_target"}


def test_a_name_in_csv_is_no_formula(estimate):
    text = "block,plot,species,planted,alive,dead\n=1+1,1,oak,9,8,1\n=1+1,2,oak,9,8,1\n"
    told = csv.DictReader(io.StringIO(estimate(text, "--format", "csv").out))
    assert {row["key"] for row in told if row["scope"] == "block"} == {"'=1+1"}


def test_json_is_asked_for_in_either_way(estimate):
    assert estimate(NAMED, "--json").out == estimate(NAMED, "--format", "json").out


def test_the_table_parts_rounds(estimate):
    told = estimate(NAMED).out
    assert (
        told.index("Round autumn") < told.index("0.9667") < told.index("Round spring") < told.index("0.9000")
    )


def test_the_levels_of_an_outcome_can_be_chosen(rows):
    text = "block,plot,species,planted,alive,dead\n" + "".join(
        f"A,{plot},oak,20,{alive},{20 - alive}\n" for plot, alive in enumerate((18, 17, 16, 19, 15, 18))
    )
    codes = [
        headline(rows(text, "--target", "0.8", "--decision-level", level), "survival")["outcome"]["code"]
        for level in ("0.8", "0.99")
    ]
    assert codes == ["meets_target", "not_settled"]


def test_the_plots_a_species_needs_can_be_chosen(rows):
    few, enough = (
        headline(rows(NAMED, "--minimum-plots", number), "survival", "species", "oak", "spring")["status"]
        for number in ("4", "3")
    )
    assert (few, enough) == ("not_estimable", "ok")


def test_such_trees_take_no_correction_for_a_small_block(rows):
    text = "block,plot,species,planted,alive,dead,block_plots\n" + "".join(
        f"A,{plot},oak,20,{alive},{20 - alive},12\n" for plot, alive in enumerate((18, 17, 16, 19, 15, 18))
    )
    these, such = (headline(rows(text, *option), "survival")["se"] for option in ((), ("--such-trees",)))
    assert these == pytest.approx(such * 0.5**0.5)


@pytest.mark.parametrize(
    "text",
    [
        NAMED.replace(",", ";"),
        NAMED.replace(",", "\t"),
        NAMED.replace("\n", "\r\n"),
        "\ufeff" + NAMED,
        "\n\n" + NAMED.replace("\n", "\n\n ,,\n"),
        '"' + NAMED.replace("\n", '"\n"').replace(",", '","').removesuffix('"'),
        NAMED.replace("round", " Round ").replace("observed_on", "DATE").replace("alive", "Living"),
        NAMED.replace(",10,", ",10.0,").replace("oak", " oak  "),
        "\n".join([NAMED.splitlines()[0], *reversed(NAMED.splitlines()[1:])]),
    ],
    ids=["semicolons", "tabs", "crlf", "mark", "blank lines", "quotes", "headings", "blanks", "order"],
)
def test_the_same_counts_in_another_dress_give_the_same_rows(rows, text):
    assert rows(text) == rows(NAMED)


def test_decimal_commas_are_read_in_areas_and_weights(rows):
    text = AREAS.replace(",", ";").replace(";50;", ";50,0;").replace(";4\n", ";4,0\n")
    assert rows(text) == rows(AREAS)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (NAMED.replace("spring,2025-04-03", ",2025-04-03"), 'Line 4: "round" is empty'),
        (NAMED.replace("autumn", "spring"), 'Line 5: Plot "1" already has a line'),
        (
            NAMED.replace("round,", "", 1).replace("spring,", "").replace("autumn,", "").replace("2025-04-01", ""),
            'Line 2: "observed_on" is empty; rounds are told apart',
        ),
        (NAMED.replace("9,1\nspring", '9,"1\nspring'), "Line 2: A quotation mark is not closed"),
        (NAMED.replace("spring,2025-04-02,A", 'spring,2025-04-02,"A"x'), "Line 3: A quotation mark"),
        (NAMED.replace("A,3,oak,10,10", "A,3,oak,10,1,000"), "Line 4: More cells than headings: cell 9 holds"),
        (NAMED.replace(",", ";").replace("10;10;0", '"1,000";10;0'), 'Line 4: "planted" is "1,000"'),
        (AREAS.replace("5,5,0,1,50,1200,4", "5,5,0,1,50,1200,0"), '"net_area_ha" is "0"; write a number above'),
        (AREAS.replace("A,2,oak,5,4,1,0,50,1200,4", "A,2,oak,5,4,1,0,50,1300,4"), '"target_per_ha" is "1300" here'),
        (AREAS + "A,1,ash,5,5,0,0,60,1200,4\n", '"plot_area_m2" is "60" here and different earlier in the same'),
        (AREAS.replace("natural", "origin_uncertain"), "Line 4: \"origin_uncertain\" is 4, more than are alive"),
        (AREAS.replace("natural", "status"), '"status" is "1"; write counted, destroyed or missing'),
        (
            "block,plot,species,planted,alive,status\nA,1,oak,9,1,destroyed\nA,2,oak,9,1,missing\n",
            '(?s)"alive" is 1 in a destroyed plot.*Line 3: The plot is missing and yet has counts',
        ),
        ("block,plot,species,planted,alive,baseline\nA,1,oak,9,1,guess\n", "at_planting, later, visible_spots or none"),
        (
            "block,plot,species,planted,alive,planted_on,date\nA,1,oak,9,1,2025-02-01,2024-02-01\n",
            "Line 2: The day of the count lies before",
        ),
    ],
)  # fmt: skip
def test_a_malformed_file_is_refused_with_line_and_column_and_nothing_is_printed(
    estimate, capsys, text, told
):
    with pytest.raises(CommandError, match=told) as refused:
        estimate(text)
    assert refused.value.returncode != 0
    assert capsys.readouterr().out == ""


def test_help_explains_every_column(capsys):
    from monitoring.estimators import count_columns

    with pytest.raises(SystemExit):
        call_command("estimate", "--help")
    told = capsys.readouterr().out
    missing = [name for name in count_columns.KNOWN if name not in told]
    assert missing == []


def test_a_file_beyond_200_mb_is_refused(estimate, monkeypatch):
    from monitoring.management.commands import estimate as command

    monkeypatch.setattr(command, "LARGEST_FILE_BYTES", len(NAMED) - 1)
    with pytest.raises(CommandError, match="larger than 200 MB"):
        estimate(NAMED)


def test_what_the_service_wrote_is_read_without_a_warning(estimate):
    """The file of counts of a round names the plot a second time and says which lines wait for a decision."""
    text = (
        "block,plot,species,planted,alive,dead_stem,empty_spot,not_found,not_assessed,removed,unit,cohort,lot,"
        "observed_on,plot_weight,block_planted,block_plots,baseline,flagged,plot_uid\n"
        "A,1,oak,10,8,1,1,0,0,0,tree,,,2025-04-01,1.0,500,,counted,true,u1\n"
        "A,2,oak,10,8,1,1,0,0,0,tree,,,2025-04-02,1.0,500,,counted,false,u2\n"
    )
    told = estimate(text, "--json")
    assert told.err == ""
    assert headline(json.loads(told.out), "survival")["n_flagged"] == 1


def test_the_order_of_lines_never_matters():
    lines = AREAS.splitlines()
    one, two = (read_counts("\n".join([lines[0], *order])).rounds[0] for order in (lines[1:], lines[:0:-1]))
    assert one.table.alive.tolist() == two.table.alive.tolist()
    assert one.stocking.natural.tolist() == two.stocking.natural.tolist()


TWO = """round,date,block,plot,species,planted,alive,dead,planted_on,origin_uncertain,status
1,2024-10-01,A,1,oak,20,18,2,2023-02-01,,
1,2024-10-01,A,2,oak,20,20,0,2023-02-01,,
1,2024-10-01,A,3,oak,20,16,4,2023-02-01,,
1,2024-10-01,A,4,oak,20,12,8,2023-02-01,,
2,2026-10-01,A,1,oak,20,15,5,2023-02-01,2,
2,2026-10-01,A,2,oak,20,19,1,2023-02-01,,
2,2026-10-01,A,3,oak,20,15,5,2023-02-01,,
2,2026-10-01,A,4,oak,20,8,12,2023-02-01,,
2,2026-10-01,A,5,oak,20,,,2023-02-01,,missing
"""


def test_change_is_told_since_the_round_before(rows, estimate):
    """By hand: plots lost 3, 1, 1 and 4 of 20; 57 of the 66 then living still live, after 730 days."""
    found = rows(TWO)
    change = headline(found, "survival_change", round="2")
    assert (change["since"], change["method"]) == ("1", "paired_residuals")
    assert change["value"] == pytest.approx(-9 / 80)
    assert change["se"] == pytest.approx(0.0375)  # standard deviation of -.15, -.05, -.05, -.2 over 2
    lived = headline(found, "interval_survival", round="2")
    assert lived["value"] == pytest.approx(57 / 66)
    assert headline(found, "annual_survival", round="2")["value"] == pytest.approx(
        (57 / 66) ** (365.25 / 730)
    )
    assert not [row for row in found if row["round"] == "1" and row["since"]]
    assert "Round 2, changes since 1" in estimate(TWO).out


def test_no_yearly_rate_within_the_first_year(rows):
    row = headline(rows(TWO.replace("2023-02-01", "2024-02-01")), "annual_survival", round="2")
    assert (row["status"], row["value"]) == ("not_estimable", None)


def test_every_reason_a_file_can_bring_about_has_words(estimate):
    from projects.reasons import REASONS

    for text in (
        TWO,
        TWO.replace("2023-02-01", "2024-02-01"),
        TWO.replace("2026-10-01,A", "2026-10-01,B"),
        NAMED,
    ):
        for row in json.loads(estimate(text, "--json").out):
            assert set(row["reason"].split()) <= set(REASONS), row["reason"]


def test_trees_of_uncertain_origin_and_missing_plots_bound_the_figure(rows):
    found = rows(TWO)
    for measure, value in (
        ("survival", 57 / 80),
        ("survival_uncertain_natural", 55 / 80),
        ("survival_missing_dead", 57 / 100),
        ("survival_missing_alive", 77 / 100),
        ("survival_worst_case", 55 / 100),
        ("survival_best_case", 77 / 100),
    ):
        assert headline(found, measure, round="2")["value"] == pytest.approx(value), measure
    assert not [row for row in found if row["round"] == "1" and row["measure"] == "survival_worst_case"]


def test_a_missing_plot_of_unsaid_size_is_taken_for_the_mean_of_its_block(rows):
    told = headline(rows(TWO.replace("A,5,oak,20,,,", "A,5,oak,,,,")), "survival_missing_dead", round="2")
    assert told["value"] == pytest.approx(57 / 100)
    larger = headline(rows(TWO.replace("A,5,oak,20,,,", "A,5,oak,40,,,")), "survival_missing_dead", round="2")
    assert larger["value"] == pytest.approx(57 / 120)


def test_stocking_says_where_plots_had_no_area(rows):
    found = rows(AREAS.replace("A,3,oak,5,2,3,4,50", "A,3,oak,5,2,3,4,"))
    assert headline(found, "stocking")["reason"] == "plots_without_area"
    assert headline(found, "plots_stocked")["reason"] == "plots_without_area"
    assert headline(found, "stocking", key="B")["reason"] == ""
    assert headline(found, "stocking", "project", "all")["reason"] == "plots_without_area"


def test_a_hundred_thousand_lines_are_read_in_seconds():
    """A fall into work line by line would take several times as long; a million lines take about ten seconds."""
    rng = np.random.default_rng(5)
    planted = rng.poisson(3, 100_000)
    alive = rng.binomial(planted, 0.8)
    lines = [
        f"{number // 5000},{number // 10},s{number % 10},{p},{a},{p - a},2025-09-01,900,"
        for number, (p, a) in enumerate(zip(planted.tolist(), alive.tolist(), strict=True))
    ]
    head = "block,plot,species,planted,alive,dead,observed_on,block_planted,natural"
    start = time.process_time()
    (only,) = read_counts("\n".join([head, *lines])).rounds
    assert time.process_time() - start < 4
    assert (only.table.alive.sum(), only.table.n_blocks) == (alive.sum(), 20)


def test_days_and_not_names_order_rounds(rows):
    assert [name for name, _value in shares(rows(NAMED.replace("autumn", "z autumn")))] == [
        "z autumn",
        "spring",
    ]


def test_two_lines_without_a_plot_are_two_faults_and_no_repetition(estimate):
    with pytest.raises(CommandError) as refused:
        estimate("block,plot,species,planted,alive\nA,,oak,9,8\nA,,oak,9,8\nA,1,oak,9,8\n")
    assert [words[:6] for words in str(refused.value).splitlines()] == ["Line 2", "Line 3"]


def test_a_number_planted_that_nobody_counted_is_not_used(rows):
    text = (
        "block,plot,species,planted,alive,dead,baseline\n"
        "A,1,oak,10,9,1,\nA,2,oak,10,8,2,\nA,3,oak,10,1,0,none\n"
    )
    row = headline(rows(text), "survival")
    assert (row["n_plots"], row["n_trees"], row["value"]) == (2, 20, pytest.approx(17 / 20))


def test_dead_however_it_is_told_stands_with_the_dead_stems():
    text = (
        "block,plot,species,planted,alive,dead,dead_stem,empty_spot\nA,1,oak,10,6,1,2,1\nA,2,oak,10,9,1,,\n"
    )
    table = read_counts(text).rounds[0].table
    assert (table.dead_stem.tolist(), table.empty_spot.tolist()) == ([3, 1], [1, 0])


def test_lines_in_any_order_keep_their_season_and_their_plot():
    text = "block,plot,species,planted,alive,dead,planting_season,plot_area_m2\n"
    lines = [f"{block},{plot},oak,20,{plot + 10},{10 - plot},{season},50\n"
             for block, season in (("A", 2023), ("B", 2024)) for plot in range(1, 5)]  # fmt: skip
    forth, back = (read_counts(text + "".join(order)).rounds[0] for order in (lines, lines[::-1]))
    assert forth.season.tolist() == back.season.tolist() == [0] * 4 + [1] * 4
    assert forth.stocking.planted.tolist() == back.stocking.planted.tolist() == [11, 12, 13, 14] * 2


def test_a_project_of_several_targets_has_no_outcome_of_stocking(rows):
    assert "outcome" not in headline(rows(AREAS), "stocking", "project", "all")
    shared = rows(AREAS.replace(",1000,", ",1200,"))
    assert headline(shared, "stocking", "project", "all")["outcome"]["target"] == 1200
