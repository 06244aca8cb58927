"""What survival to expect of a planting not yet made: stated by the manager, else common practice.

Monitoring knows more, from what was counted of past plantings; it registers a better reader with `use`.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _
from scipy.stats import beta

from projects.models import Project, SurvivalPrior

DEFAULT = (7.0, 3.0)  # 70 % with the weight of ten trees; common practice
DEFAULTS = {  # trees alive and dead of ten; each common practice, so that a manager's own figure soon replaces it
    "bare_root": (7.0, 3.0),
    "container": (7.5, 2.5),
    "balled_burlapped": (8.0, 2.0),
    "cutting": (6.0, 4.0),
    "wildling": (6.0, 4.0),
}
NOTHING_KNOWN = (1.0, 1.0)  # any share is as likely as any other
# Of sown seed: the share of seed spots with a living seedling. It differs a hundredfold by seed, ground and mice, so
# that neither a usual figure nor one stated of every stock type holds for it.
NO_SHARED_DEFAULT = "direct_seed"
LEVEL = 0.95

Kind = tuple[int | None, str]  # species id and stock type


@dataclass(frozen=True)
class ForeseenSurvival:
    """A Beta over the share alive at the check age, with where it comes from.

    Attributes
    ----------
    alive, dead : the Beta's two weights, in trees.
    source : words for a page.
    is_observed : whether plantings were counted for it.
    is_missing : nothing was counted, nothing stated, and there is no shared default: ask for a figure first.
    """

    alive: float
    dead: float
    source: str
    is_observed: bool = False
    is_missing: bool = False

    @property
    def mean(self) -> float:
        """Expected share."""
        return self.alive / (self.alive + self.dead)

    @property
    def low(self) -> float:
        """Lower limit of what one planting may come to, at 95 %."""
        return float(beta.ppf((1 - LEVEL) / 2, self.alive, self.dead))

    @property
    def high(self) -> float:
        """Upper limit, at 95 %."""
        return float(beta.ppf((1 + LEVEL) / 2, self.alive, self.dead))


Reader = Callable[[Project, list[Kind]], Mapping[Kind, ForeseenSurvival]]
readers: list[Reader] = []


def use(reader: Reader) -> None:
    """Let a higher app answer first; what it leaves out is answered from what was stated."""
    if reader not in readers:
        readers.append(reader)


def foreseen_survival(project: Project, kinds: Iterable[Kind]) -> dict[Kind, ForeseenSurvival]:
    """Return the expected survival of each species in each stock type, in a fixed number of queries."""
    asked = list(dict.fromkeys(kinds))
    found: dict[Kind, ForeseenSurvival] = {}
    for reader in readers:
        found |= reader(project, [kind for kind in asked if kind not in found])
    left = [kind for kind in asked if kind not in found]
    return found | (stated_survival(project, left) if left else {})


def stated_survival(project: Project, kinds: Iterable[Kind]) -> dict[Kind, ForeseenSurvival]:
    """Return what was stated of each kind, else the common default."""
    rows = SurvivalPrior.objects.filter(organisation_id=project.organisation_id)
    priors = list(rows.filter(Q(project__isnull=True) | Q(project=project)))
    found = {}
    for species_id, stock_type in kinds:
        prior = best_prior(priors, project.pk, species_id, stock_type)
        if prior is None:
            found[species_id, stock_type] = usual_survival(stock_type)
        else:
            alive = prior.mean * prior.weight_trees
            found[species_id, stock_type] = ForeseenSurvival(alive, prior.weight_trees - alive, prior.source)
    return found


def usual_survival(stock_type: str) -> ForeseenSurvival:
    """What is usual of a stock type where nothing was counted or stated."""
    if stock_type == NO_SHARED_DEFAULT:
        words = _("nothing is known of sown seed here: state a survival first")
        return ForeseenSurvival(*NOTHING_KNOWN, words, is_missing=True)
    return ForeseenSurvival(*DEFAULTS.get(stock_type, DEFAULT), _("common practice"))


def best_prior(
    priors: Iterable[SurvivalPrior], project_id: int, species_id: int | None, stock_type: str
) -> SurvivalPrior | None:
    """The most particular prior that fits: project before organisation, species before stock type."""
    fitting = [
        prior
        for prior in priors
        if prior.project_id in (None, project_id)
        and prior.species_id in (None, species_id)
        and prior.stock_type in ({stock_type} if stock_type == NO_SHARED_DEFAULT else {"", stock_type})
    ]
    return max(fitting, key=how_particular, default=None)


def how_particular(prior: SurvivalPrior) -> tuple[bool, bool, bool, int]:
    """What ranks one prior before another."""
    return (prior.project_id is not None, prior.species_id is not None, prior.stock_type != "", prior.pk)
