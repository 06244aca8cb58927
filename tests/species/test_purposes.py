"""The share of a project's purposes that a species serves, and when a species needs a reason."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from species.calc.purposes import serves
from species.traits import USES

purposes = st.dictionaries(st.sampled_from(sorted(USES)), st.integers(1, 10), min_size=1)
uses = st.sets(st.sampled_from(sorted(USES)))


@given(uses, purposes)
def test_the_share_lies_between_nothing_and_all_and_its_complement_serves_the_rest(has, weights):
    share = serves(has, weights)
    assert 0 <= share <= 1
    assert share + serves(set(USES) - has, weights) == pytest.approx(1)


@given(uses, purposes, st.integers(2, 9))
def test_only_the_proportions_of_the_weights_matter(has, weights, factor):
    assert serves(has, weights) == pytest.approx(
        serves(has, {use: weight * factor for use, weight in weights.items()})
    )


@given(purposes)
def test_a_species_nobody_has_described_is_unknown_and_one_without_the_uses_serves_nothing(weights):
    assert serves(None, weights) is None
    assert serves((), weights) == 0
    assert serves(tuple(weights), weights) == 1


@pytest.mark.parametrize("weight", [0, -1, float("inf"), float("nan")])
def test_a_weight_that_weighs_nothing_is_refused(weight):
    with pytest.raises(ValueError, match="above 0"):
        serves({"fruit"}, {"fruit": weight})
