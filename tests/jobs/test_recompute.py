"""From a stored count to figures: what a recomputation writes, and what it leaves alone."""

import pytest

from monitoring.models import DirtyKey, Estimate
from monitoring.services import dirty, recompute

pytestmark = pytest.mark.django_db


def headline(scope: str, measure: str = "survival", **lookup) -> Estimate:
    return Estimate.objects.get(scope=scope, measure=measure, is_headline=True, **lookup)


def test_a_stored_count_marks_its_block_its_round_and_its_project(count, plots, baselines, survey_round, project, block):
    count(plots[0], baselines[0], 14)
    keys = set(DirtyKey.objects.values_list("kind", "key"))
    assert keys == {
        ("round_block", f"{survey_round.pk}:{block.pk}"),
        ("round", str(survey_round.pk)),
        ("project", str(project.pk)),
    }


def test_counts_become_figures_and_the_list_is_empty(count, work, plots, baselines, block):
    for plot, baseline, alive in zip(plots, baselines, (18, 15, 12), strict=True):
        count(plot, baseline, alive)
    work()
    assert not DirtyKey.objects.exists()
    row = headline("block")
    assert (row.key, row.n_plots, row.n_trees, row.value) == (str(block.uid), 3, 60, 0.75)
    assert row.method == "beta_binomial_posterior"
    assert row.lower < 0.75 < row.upper
    assert row.facts["not_found"] == 15
    assert headline("project").value == 0.75
