"""Figures are written with unit and interval, the same size in every language, and never as a bare point."""

import doctest
from datetime import date
from types import SimpleNamespace

import pytest
from django.template import Context, Template, TemplateSyntaxError
from django.utils import translation

from projects import figures, interval_bar
from projects.figures import NO_BREAK, THIN
from projects.reasons import REASONS, reason_words


def render(source: str, **context) -> str:
    return Template("{% load figures %}" + source).render(Context(context))


def plain(text: str) -> str:
    return text.replace(NO_BREAK, " ").replace(THIN, "_")


@pytest.mark.parametrize("module", [figures, interval_bar])
def test_the_examples_in_the_docstrings_hold(module):
    assert doctest.testmod(module).failed == 0
    assert doctest.testmod(module).attempted > 0


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.64, "64 %"),
        (0.645, "65 %"),
        (0, "0 %"),
        (1, "100 %"),
        (0.999, ">99 %"),
        (0.001, "<1 %"),
        (None, "–"),
    ],
)
def test_a_share_short_of_none_or_all_never_rounds_to_it(share, words):
    assert plain(figures.percent(share)) == words


def test_digits_are_grouped_alike_in_every_language_and_only_the_decimal_sign_changes():
    assert plain(figures.quantity(12345.5, 1)) == "12_345.5"
    with translation.override("pt"):
        assert plain(figures.quantity(12345.5, 1)) == "12_345,5"


@pytest.mark.parametrize(
    ("minor", "currency", "words"),
    [
        (123450, "EUR", "EUR 1_234.50"),
        (5, "KES", "KES 0.05"),
        (-5, "EUR", "EUR −0.05"),
        (5000, "UGX", "UGX 5_000"),
        (5000, "TND", "TND 5.000"),
        (None, "EUR", "–"),
    ],
)
def test_money_has_the_decimals_of_its_currency(minor, currency, words):
    assert plain(figures.money(minor, currency)) == words


def test_large_money_keeps_every_unit():
    assert plain(figures.money(900_719_925_474_099_301, "EUR")) == "EUR 9_007_199_254_740_993.01"


@pytest.mark.parametrize(
    ("number", "unit", "metric", "us"),
    [
        (1, "ha", "1.00 ha", "2.5 acres"),
        (40.46856422, "ha", "40.47 ha", "100.0 acres"),
        (3.048, "m", "3.0 m", "10.0 ft"),
        (25.4, "cm", "25 cm", "10.0 in"),
        (1100, "per_ha", "1_100 per ha", "445 per acre"),
    ],
)
def test_measures_follow_the_units_of_the_reader(number, unit, metric, us):
    source = "{% measure number unit %}"
    assert plain(render(source, number=number, unit=unit)) == metric
    assert plain(render(source, number=number, unit=unit, units="us")) == us
    organisation = SimpleNamespace(units="us")
    assert plain(render(source, number=number, unit=unit, organisation=organisation)) == us


def test_an_area_is_written_in_the_organisations_units():
    assert plain(render("{% area 2.5 %}", organisation=SimpleNamespace(units="metric"))) == "2.50 ha"


@pytest.mark.parametrize(
    ("starts", "ends", "words"),
    [
        (date(2027, 2, 8), date(2027, 3, 14), "8 February to 14 March 2027"),
        (date(2027, 2, 8), date(2027, 2, 14), "8 to 14 February 2027"),
        (date(2026, 12, 8), date(2027, 1, 14), "8 December 2026 to 14 January 2027"),
        (date(2027, 2, 8), date(2027, 2, 8), "8 February 2027"),
        (date(2027, 2, 8), None, "8 February 2027"),
        (None, None, "–"),
    ],
)
def test_a_span_says_once_what_its_two_days_share(starts, ends, words):
    assert render("{% span starts ends %}", starts=starts, ends=ends) == words


def survival(value, lower, upper, **more):
    return {"value": value, "lower": lower, "upper": upper, "level": 0.95, "measure": "survival"} | more


def test_a_figure_in_a_sentence_carries_its_interval():
    html = plain(render("{% figure estimate %}", estimate=survival(0.64, 0.55, 0.72)))
    assert "64 %" in html
    assert "(55 to 72 %)" in html


def test_a_stocking_is_written_per_area_in_the_units_of_the_reader():
    estimate = survival(1100, 900, 1300) | {"measure": "stocking"}
    assert "445 per acre" in plain(render("{% figure estimate %}", estimate=estimate, units="us"))
    assert "364 to 526 per acre" in plain(render("{% figure estimate %}", estimate=estimate, units="us"))


def test_a_figure_without_limits_says_so():
    assert "no interval" in render("{% figure estimate %}", estimate=survival(0.64, None, None))


def test_an_interval_bar_says_everything_it_shows_in_words():
    context = {"estimate": survival(0.74, 0.58, 0.86), "found": survival(0.83, 0.7, 0.9)}
    html = plain(render("{% interval estimate target=0.8 if_found=found %}", **context))
    words = "74 %; 95 % interval 58 to 86 %; 83 % if the trees not found live; target 80 %"
    assert f'aria-label="{words}"' in html


def test_an_interval_bar_puts_its_marks_where_the_values_are():
    html = render("{% interval estimate target=0.8 %}", estimate=survival(0.64, 0.55, 0.72))
    assert 'class="band" x="55.00%" width="17.00%"' in html
    assert 'class="mark" x="64.00%"' in html
    assert 'class="mark" x="80.00%"' in html


def test_positions_stay_in_the_notation_of_svg_in_every_language():
    with translation.override("pt"):
        html = render("{% interval estimate target=0.8 %}", estimate=survival(0.645, 0.555, 0.72))
    assert 'x="64.50%"' in html


def test_a_bar_leaves_out_the_hatch_when_finding_every_tree_would_change_nothing():
    estimate = survival(0.9, 0.8, 0.95)
    assert "tg-hatch" not in render("{% interval estimate if_found=estimate %}", estimate=estimate)


def test_a_bar_without_an_estimate_gives_the_reason_and_draws_nothing():
    html = render("{% interval estimate target=0.8 %}", estimate={"value": None, "reason": "one_plot"})
    assert "<svg" not in html
    assert REASONS["one_plot"] in html


def test_a_value_beyond_the_scale_stops_at_its_edge():
    estimate = survival(3000, 2600, 3400) | {"measure": "stocking"}
    assert 'x="100.00%" width="0.00%"' in render("{% interval estimate scale=2500 %}", estimate=estimate)


def test_rests_on_counts_plots_and_trees_and_what_is_not_settled():
    one = {"n_plots": 1, "n_trees": 1, "n_flagged": 0}
    many = {"n_plots": 18, "n_trees": 1342, "n_flagged": 2}
    assert plain(render("{% rests_on one %}", one=one)) == "1 plot, 1 tree"
    assert plain(render("{% rests_on many %}", many=many)) == "18 plots, 1_342 trees, 2 to be settled"


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ('{% outcome "meets_target" %}', ["meets target"]),
        ('{% outcome "falls_short" %}', ["falls short", "find out why before planting again"]),
        ('{% outcome "not_settled" %}', ["not settled yet", "count again in the next round"]),
        ('{% outcome "not_settled" more_plots=1 %}', ["not settled yet", "1 more plot<"]),
        ('{% outcome "not_settled" more_plots=4 %}', ["not settled yet", "4 more plots"]),
        ('{% outcome "not_settled" not_found=9 %}', ["not settled yet", "go back and look for 9 trees"]),
        ('{% outcome "so_far" %}', ["so far"]),
    ],
)
def test_an_outcome_is_told_by_its_own_word_and_shape(source, words):
    html = render(source)
    assert all(word in html for word in words)
    assert html.count("<svg") == 1


def test_the_four_outcomes_have_four_shapes():
    codes = ["meets_target", "falls_short", "not_settled", "so_far"]
    shapes = {render('{% outcome "' + code + '" %}').split("</svg>")[0].split(">", 2)[2] for code in codes}
    assert len(shapes) == 4


def test_an_outcome_is_read_from_an_estimate_at_either_level():
    estimate = SimpleNamespace(
        outcome="meets_target", outcome_claim="not_settled", more_plots=3, next_step="more_plots"
    )
    assert "meets target" in render("{% outcome estimate %}", estimate=estimate)
    assert "3 more plots" in render("{% outcome estimate claim=True %}", estimate=estimate)


def test_an_estimate_kept_open_by_trees_not_found_sends_people_back():
    estimate = SimpleNamespace(outcome="not_settled", more_plots=None, next_step="look_again")
    assert "go back and look for 1 tree<" in render("{% outcome estimate not_found=1 %}", estimate=estimate)
    assert "go back and look<" in render("{% outcome estimate %}", estimate=estimate)


@pytest.mark.parametrize(
    ("step", "words"),
    [
        ("plots_cannot_settle", ">more plots would not settle it; count again"),
        ("", ">count again in the next round"),
    ],
)
def test_an_open_outcome_without_a_number_of_plots_says_what_next_all_the_same(step, words):
    estimate = SimpleNamespace(outcome="not_settled", more_plots=None, next_step=step)
    assert words in render("{% outcome estimate %}", estimate=estimate)


def test_an_unknown_outcome_is_a_mistake_in_the_page():
    with pytest.raises(TemplateSyntaxError, match="Unknown outcome"):
        render('{% outcome "green" %}')


def test_several_reasons_are_several_sentences():
    words = reason_words("lonely_block weighted_by_plots")
    assert words == f"{REASONS['lonely_block']} {REASONS['weighted_by_plots']}"


def test_where_everything_was_counted_no_interval_is_pretended():
    whole = {
        "value": 1.0,
        "lower": 1.0,
        "upper": 1.0,
        "level": 0.95,
        "measure": "survival",
        "method": "census",
    }
    drawn = interval_bar.draw(whole, 0.85, None, unit="percent")
    assert drawn["limits_words"] == "everything counted"
    assert "interval" not in drawn["alternative"]


@pytest.mark.parametrize("number", [9e299, 1.7976931348623157e308, 10**40, -(10**30)])
def test_no_number_is_too_large_to_be_written(number):
    assert figures.quantity(number, 2).replace(THIN, "").lstrip(figures.MINUS)[0] in "19"
