"""What survival to expect of a planting, from what was counted of a project's past plantings."""

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.estimators.past_plantings import THIS_PROJECT, THIS_SPECIES, Foreseen, as_one
from monitoring.selectors.need_inputs import plantings_of
from monitoring.selectors.past_plantings import planting_counts
from monitoring.services.replanting_evidence import Evidence
from projects.models import Project, SurvivalPrior
from projects.selectors import foreseen_survival
from projects.selectors.foreseen_survival import NO_SHARED_DEFAULT, ForeseenSurvival, Kind, best_prior


def register() -> None:
    """Let plans ask what was counted before they go by what was stated."""
    foreseen_survival.use(observed_survival)


def observed_survival(project: Project, kinds: Iterable[Kind]) -> Mapping[Kind, ForeseenSurvival]:
    """Return the kinds that counted plantings tell of; the others are left to what was stated. Three queries."""
    asked = list(kinds)
    counts = planting_counts(project.pk, plantings_of(project.pk)) if asked else []
    if not counts:
        return {}
    priors = SurvivalPrior.objects.filter(organisation_id=project.organisation_id).order_by("id")
    evidence = Evidence.of(project, counts, list(priors))
    counted = {(count.species, count.stock_type) for count in evidence.counts}
    found = {kind: _foreseen(evidence, kind, kind in counted) for kind in asked}
    return {kind: each for kind, each in found.items() if each is not None}


def _foreseen(evidence: Evidence, kind: Kind, is_counted: bool) -> ForeseenSurvival | None:
    """One kind, or None where what was stated of it says more than other plantings do.

    A species never counted in this stock goes by the others of its stock, unless something was stated of itself;
    plantings of other stock speak only where nothing was stated, and never of sown seed.
    """
    species, stock_type = kind
    stated = best_prior(evidence.priors, evidence.project_id, species, stock_type)
    if not is_counted and stated is not None and stated.species_id is not None:
        return None
    found, _source = evidence.foreseen(species if is_counted else None, stock_type, None)
    is_of_other_stock = found.level == THIS_PROJECT
    if not found.level or (is_of_other_stock and (stated is not None or stock_type == NO_SHARED_DEFAULT)):
        return None
    survival = as_one(found.survival)
    alive, dead = float(survival.parts()[0][0]), float(survival.parts()[1][0])
    return ForeseenSurvival(alive, dead, words_of(found), is_observed=True)


def words_of(found: Foreseen) -> str:
    """What a foreseen survival rests on."""
    numbers = {"n": found.n_plantings, "plots": found.n_plots}
    counted = ngettext(
        "%(n)s planting counted in %(plots)s plots", "%(n)s plantings counted in %(plots)s plots", found.n_plantings
    )  # fmt: skip
    like = {
        THIS_SPECIES: _("of this species and stock"),
        THIS_PROJECT: _("of other stock in this project"),
    }.get(found.level, _("of this stock, other species"))
    words = _("%(counted)s, %(like)s") % {"counted": counted % numbers, "like": like}
    if found.joined:
        words = _("%(words)s, joined with what was expected") % {"words": words}
    if found.carried:
        words = _("%(words)s; carried to the check age") % {"words": words}
    return words
