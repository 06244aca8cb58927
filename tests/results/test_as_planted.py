"""The density at planting: counted in plots, beside spacing and planting days, a disagreement said in words."""

from datetime import date

import numpy as np
import pytest
from django.urls import reverse
from numpy.testing import assert_allclose
from scipy import optimize, stats

from monitoring.estimators.as_planted import beside, planted_density
from monitoring.estimators.stocking import flat_limits
from monitoring.selectors import as_planted
from tests import factories


def read(actor, block):
    return as_planted.of_block(actor, block)["as_planted"]


def test_plots_of_one_size_have_the_t_interval_of_a_mean():
    trees, area = np.array([18, 25, 21, 16, 22, 20]), np.full(6, 99.93)
    found = planted_density(trees, area)
    per_ha = trees / area * 10_000
    assert found.value == pytest.approx(per_ha.mean())
    low, high = stats.t.interval(0.95, 5, per_ha.mean(), stats.sem(per_ha))
    assert_allclose((found.lower, found.upper), (low, high), rtol=1e-12)


def test_plots_of_many_sizes_have_the_error_of_a_regression_through_the_origin():
    """The ratio of totals is least squares weighted by 1 / area, by scipy; its error by the residuals about it."""
    rng = np.random.default_rng(3)
    area = rng.uniform(60, 140, 9)
    trees = rng.poisson(area * 0.2)
    found = planted_density(trees, area)
    fit = optimize.minimize_scalar(lambda slope: ((trees - slope * area) ** 2 / area).sum())
    assert found.value == pytest.approx(fit.x * 10_000, rel=1e-6)
    residual = trees - found.value / 10_000 * area
    assert found.se == pytest.approx(np.std(residual, ddof=1) * 9**0.5 / area.sum() * 10_000, rel=1e-9)


def test_plots_that_cannot_show_spread_say_so():
    flat = planted_density([20] * 4, [100.0] * 4)
    assert flat.basis == "no_spread"
    assert_allclose((flat.lower, flat.upper), np.ravel(flat_limits(80, 4, 100.0, 0.95)))
    one = planted_density([20], [100.0])
    assert (one.basis, one.lower, beside(one, 100.0)) == ("one_plot", None, "")
    whole = planted_density([4000], [20_000.0], is_census=True)
    assert (whole.lower, whole.upper) == (2000, 2000)
    assert [beside(whole, other) for other in (2010, 2100, 1900)] == ["within", "fewer", "more"]
    assert planted_density([], []).value is None
    for wrong in (([1], [0.0]), ([-1], [10.0]), ([1, 2], [10.0])):
        with pytest.raises(ValueError, match="area"):
            planted_density(*wrong)


def test_only_trees_of_first_plantings_counted_at_planting_in_plots_of_known_area(
    actor, hill, block, oak, cohort
):
    plots = [factories.plot(block) for _ in range(3)]
    for plot, trees in zip(plots, (20, 22, 18), strict=True):
        factories.baseline(plot, oak, trees, cohort=cohort)
    found = read(actor, block).found
    assert (found.n_plots, found.n_trees) == (3, 60)
    again = factories.cohort(
        block, factories.lot(hill, oak), factories.season(hill, year=2025), planted=100, replaces=cohort
    )
    factories.baseline(plots[0], oak, 5, cohort=again)
    factories.baseline(factories.plot(block), oak, 9, cohort=again)
    factories.baseline(factories.plot(block, area_m2=None), oak, 50, cohort=cohort)
    factories.baseline(factories.plot(block, retired_at="2024-05-01T00:00Z"), oak, 50, cohort=cohort)
    factories.baseline(plots[1], oak, 50, cohort=cohort, is_current=False)
    factories.baseline(plots[1], oak, 9, cohort=cohort, unit="seed_spot")
    assert read(actor, block).found == found
    mixed = factories.plot(block)
    factories.baseline(mixed, oak, 10, cohort=cohort)
    factories.baseline(mixed, oak, 10, cohort=cohort, source="later")
    assert read(actor, block).found == found


def test_a_disagreement_is_said_in_words(signed_in, ben, actor, hill, block, oak, cohort):
    """Spacing 2.5 × 2 m gives 2000 per ha; 500 planted on 2 ha are 250 per ha; the plots say about 2000."""
    for trees in (20, 22, 18):
        factories.baseline(factories.plot(block), oak, trees, cohort=cohort)
    factories.cohort(block, factories.lot(hill, oak), cohort.season, planted=3000, replaces=cohort)
    found = read(actor, block)
    assert (found.spacing.per_ha, found.spacing.where) == (2000, "within")
    assert (found.ledger.per_ha, found.ledger.where) == (250, "more")
    page = signed_in(ben).get(reverse("projects:block_detail", kwargs={"org": "hill", "uid": block.uid}))
    words = page.content.decode().replace("\u202f", "").replace("\xa0", " ")
    assert "a planting day is missing, or the net area is too large" in words
    assert "<b>2001 per ha</b>" in words and "(1504 to 2499 per ha)" in words
    cohort.planting_days.create(
        organisation=block.organisation,
        block=block,
        lot=cohort.lot,
        planted_on=date(2024, 4, 1),
        quantity=3500,
    )
    found = read(actor, block)
    assert (found.ledger.where, found.planted_since) == ("within", True)


def test_nothing_counted_is_no_panel_and_funders_see_none(signed_in, fred, actor, block, oak, cohort):
    assert read(actor, block) is None
    for trees in (20, 22):
        factories.baseline(factories.plot(block), oak, trees, cohort=cohort)
    page = signed_in(fred).get(reverse("projects:block_detail", kwargs={"org": "hill", "uid": block.uid}))
    assert "How densely" not in page.content.decode()
