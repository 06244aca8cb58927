"""Something else came: what each rule lets stand for what was asked."""

import pytest

from projects.calc.substitution import Listed, Sent, Wanted, best_line, fit

OAK, BIRCH, PINE = 1, 2, 3
LISTED = (Listed(BIRCH, "container", 2), Listed(OAK, "container", 1), Listed(PINE, rank=3))


@pytest.mark.parametrize(
    ("rule", "sent", "verdict", "rank"),
    [
        ("none", Sent(OAK, "bare_root"), "fits", 0),
        ("none", Sent(OAK, "bare_root", "2+1"), "not_allowed", 0),
        ("none", Sent(OAK, "container"), "not_allowed", 0),
        ("ask", Sent(BIRCH, "container"), "ask", 0),
        ("same_species", Sent(OAK, "container", "2+1"), "allowed", 0),
        ("same_species", Sent(BIRCH, "bare_root"), "not_allowed", 0),
        ("listed", Sent(OAK, "container"), "allowed", 1),
        ("listed", Sent(BIRCH, "container"), "allowed", 2),
        ("listed", Sent(BIRCH, "bare_root"), "not_allowed", 0),
        ("listed", Sent(PINE, "wildling"), "allowed", 3),
        ("listed", Sent(OAK, "bare_root", "2+1"), "not_allowed", 0),
    ],
)
def test_each_rule_allows_what_it_says_and_nothing_else(rule, sent, verdict, rank):
    listed = LISTED if rule == "listed" else ()
    found = fit(Wanted(OAK, "bare_root", "1+1", rule=rule, listed=listed), sent)
    assert (found.verdict, found.rank) == (verdict, rank)


@pytest.mark.parametrize("rule", ["none", "ask", "same_species"])
def test_what_was_agreed_to_since_is_allowed_and_nothing_beside_it(rule):
    line = Wanted(OAK, "bare_root", "1+1", rule=rule, listed=(Listed(BIRCH, "container"),))
    assert fit(line, Sent(BIRCH, "container")).verdict == "allowed"
    assert fit(line, Sent(BIRCH, "bare_root")).verdict == ("ask" if rule == "ask" else "not_allowed")


@pytest.mark.parametrize("rule", ["none", "ask", "same_species", "listed"])
def test_a_provenance_written_otherwise_is_asked_about_whatever_the_rule(rule):
    line = Wanted(OAK, "bare_root", provenance="Serra da Estrela", rule=rule)
    assert fit(line, Sent(OAK, "bare_root", provenance=" serra da  ESTRELA")).verdict == "fits"
    assert fit(line, Sent(OAK, "bare_root")).verdict == "fits"  # not stated: nothing differs
    found = fit(line, Sent(OAK, "bare_root", provenance="Costa"))
    assert (found.verdict, found.differs) == ("ask", ("provenance",))


def test_a_strange_provenance_does_not_make_a_refused_species_welcome():
    line = Wanted(OAK, "bare_root", provenance="Serra", rule="same_species")
    assert fit(line, Sent(BIRCH, "bare_root", provenance="Costa")).verdict == "not_allowed"
    assert fit(line, Sent(OAK, "container", provenance="Costa")).verdict == "ask"


def test_what_came_goes_to_the_line_it_fits_best():
    lines = [
        (7, Wanted(OAK, "bare_root", rule="ask")),
        (8, Wanted(PINE, "bare_root", rule="listed", listed=(Listed(BIRCH, rank=2),))),
        (9, Wanted(BIRCH, "bare_root", rule="none")),
    ]
    assert best_line(lines, Sent(BIRCH, "bare_root"))[0] == 9
    assert best_line(lines, Sent(BIRCH, "container"))[0] == 8
    assert best_line(lines, Sent(OAK, "container"))[0] == 7
    assert best_line([], Sent(OAK, "container")) is None


def test_an_unknown_rule_is_a_mistake():
    with pytest.raises(ValueError, match="Unknown rule"):
        fit(Wanted(OAK, "bare_root", rule="anything"), Sent(OAK, "bare_root"))
