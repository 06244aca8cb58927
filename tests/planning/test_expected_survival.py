"""What survival plans go by: counted plantings, then statements, then what is usual; and the pages that say so."""

from datetime import date

import pytest
from django.urls import reverse

from monitoring.estimators.past_plantings import PlantingCount
from monitoring.services import observed_survival as observed
from projects.errors import Refusal
from projects.models import HistoryEntry, SurvivalPrior
from projects.selectors.foreseen_survival import foreseen_survival
from projects.services import stated_survival
from tests import factories


def address(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


def seen(number, species, stock_type, alive, trees=100, plots=5):
    return PlantingCount(str(number), species.pk, stock_type, date(2024, 1, number), 900, trees, alive, plots)


@pytest.fixture
def birch(db):
    return factories.species("betula-pendula")


@pytest.fixture
def counted(monkeypatch, oak):
    """Three plantings of bare-root oak in 15 plots, about 80 of 100 alive each."""
    rows = [seen(number, oak, "bare_root", alive) for number, alive in ((1, 79), (2, 80), (3, 82))]
    monkeypatch.setattr(observed, "planting_counts", lambda project, plantings: rows)
    return rows


def test_what_is_usual_where_nothing_is_known(project, oak):
    kinds = [(oak.pk, name) for name in ("bare_root", "container", "direct_seed")]
    found = foreseen_survival(project, kinds)
    assert [found[kind].mean for kind in kinds] == [0.7, 0.75, 0.5]
    assert [found[kind].is_missing for kind in kinds] == [False, False, True]
    assert found[kinds[0]].source == "common practice"


def test_the_most_particular_statement_holds(hill, project, oak):
    state = SurvivalPrior.objects.create
    state(organisation=hill, mean=0.5, weight_trees=10, source="all")
    state(organisation=hill, species=oak, mean=0.6, weight_trees=10, source="oaks")
    state(organisation=hill, project=project, mean=0.4, weight_trees=20, source="here")
    other = factories.project(hill)
    assert foreseen_survival(project, [(oak.pk, "bare_root")])[oak.pk, "bare_root"].source == "here"
    found = foreseen_survival(other, [(oak.pk, "wildling")])[oak.pk, "wildling"]
    assert (found.source, found.alive, found.dead, found.is_missing) == ("oaks", 6.0, 4.0, False)
    seed = (oak.pk, "direct_seed")  # of seed spots, not of plants: asked for by itself
    assert foreseen_survival(other, [seed])[seed].is_missing
    state(organisation=hill, stock_type="direct_seed", mean=0.3, weight_trees=10, source="acorns")
    assert foreseen_survival(other, [seed])[seed].source == "acorns"


def test_counted_plantings_of_the_kind_speak_first(hill, project, oak, counted):
    SurvivalPrior.objects.create(organisation=hill, species=oak, mean=0.2, weight_trees=500, source="a fear")
    found = foreseen_survival(project, [(oak.pk, "bare_root")])[oak.pk, "bare_root"]
    assert found.is_observed and "3 plantings counted in 15 plots, of this species and stock" in found.source
    assert 0.72 < found.mean < 0.85 and found.low < found.mean < found.high


def test_a_species_never_counted_goes_by_its_stock_unless_something_is_said_of_it(
    hill, project, birch, counted
):
    kind = (birch.pk, "bare_root")
    found = foreseen_survival(project, [kind])[kind]
    assert found.is_observed and "of this stock, other species" in found.source
    SurvivalPrior.objects.create(organisation=hill, mean=0.3, weight_trees=10, source="all")
    assert foreseen_survival(project, [kind])[kind].is_observed
    SurvivalPrior.objects.create(
        organisation=hill, species=birch, mean=0.3, weight_trees=10, source="birches"
    )
    assert foreseen_survival(project, [kind])[kind].source == "birches"


def test_other_stock_speaks_only_where_nothing_is_said_and_never_of_seed(hill, project, oak, counted):
    container, seed = (oak.pk, "container"), (oak.pk, "direct_seed")
    found = foreseen_survival(project, [container, seed])
    assert "of other stock in this project" in found[container].source
    assert found[seed].is_missing
    SurvivalPrior.objects.create(organisation=hill, mean=0.3, weight_trees=10, source="all")
    found = foreseen_survival(project, [container, seed])
    assert found[container].source == "all"
    assert found[seed].is_missing


def test_reading_costs_the_same_for_many_kinds(project, oak, counted, django_assert_num_queries):
    others = [factories.species(f"acer-{letter}") for letter in "abcdefgh"]
    with django_assert_num_queries(2):
        foreseen_survival(project, [(oak.pk, "bare_root")])
    with django_assert_num_queries(3):  # one more for what was stated of the kinds nobody counted
        foreseen_survival(
            project, [(row.pk, name) for row in others for name in ("bare_root", "container", "direct_seed")]
        )


FIELDS = {"stock_type": "bare_root", "mean": "65", "weight_trees": "40", "source": "a neighbour's record"}


def test_a_manager_states_changes_and_takes_back(signed_in, ana, hill, project, oak):
    browser = signed_in(ana)
    browser.post(address("survival_prior_new"), FIELDS | {"species": oak.pk, "project": project.uid})
    row = SurvivalPrior.objects.get()
    assert (row.mean, row.weight_trees, row.project, row.species) == (0.65, 40, project, oak)
    page = browser.get(address("survival_prior_edit", row)).content.decode()
    assert 'value="65"' in page
    browser.post(
        address("survival_prior_edit", row), FIELDS | {"species": oak.pk, "project": "", "mean": "55,5"}
    )
    row.refresh_from_db()
    assert (row.mean, row.project) == (0.555, None)
    assert "a neighbour&#x27;s record" in browser.get(address("survival_prior_list")).content.decode()
    browser.post(address("survival_prior_remove", row))
    assert not SurvivalPrior.objects.exists()
    verbs = HistoryEntry.objects.filter(subject_uid=row.uid).order_by("id").values_list("verb", flat=True)
    assert list(verbs) == ["survival_prior.made", "survival_prior.edited", "survival_prior.withdrawn"]


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("mean", "100", "nothing is certain"), ("mean", "0", "nothing is certain"), ("mean", "two", "such as 80"),
        ("weight_trees", "0", "or more"), ("weight_trees", "1e9", "or less"), ("source", "", "required"),
        ("stock_type", "twig", "not one of"),
    ],
)  # fmt: skip
def test_each_problem_is_said_at_its_field(signed_in, ana, field, value, words):
    answer = signed_in(ana).post(address("survival_prior_new"), FIELDS | {field: value})
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[field][0]
    assert not SurvivalPrior.objects.exists()


def test_one_thing_is_stated_once(actor, oak):
    said = {"actor": actor, "species": oak, "stock_type": "", "mean": 0.5, "weight_trees": 10, "source": "x"}
    row = stated_survival.state_survival(**said, project=None)
    with pytest.raises(Refusal, match="stated already"):
        stated_survival.state_survival(**said, project=None)
    assert stated_survival.change_survival(actor=actor, prior=row, mean=0.6).mean == 0.6


def test_needs_are_worked_out_again(actor, project, monkeypatch):
    told = []
    monkeypatch.setattr(stated_survival, "announce", lambda kind, subject: told.append((kind, subject)))
    stated_survival.state_survival(actor=actor, project=None, mean=0.5, weight_trees=10, source="x")
    assert told == [("project_changed", project)]
