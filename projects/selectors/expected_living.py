"""How many living trees a project may expect, species by species and site by site, before anybody has counted."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from projects.calc.benefits import Range
from projects.models import MixLine, Plan, PlantingDay, Project, Unit
from projects.selectors.foreseen_survival import foreseen_survival

Share = tuple[float, float, float]  # mean and limits


@dataclass(frozen=True)
class LivingKind:
    """Trees of one species and stock type in one block, with the share expected alive at the check age.

    Of direct seed these are seed spots, and the share of them with a living seedling.
    """

    block_id: int
    site_id: int
    species_id: int
    stock_type: str
    trees: int
    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class ExpectedLiving:
    """Living trees expected at the check age.

    `plan` is what the numbers come from; without one, what was planted. `left_out` are seed spots of whose survival
    nobody has said anything.
    """

    kinds: Sequence[LivingKind] = ()
    plan: Plan | None = None
    left_out: int = 0

    @property
    def trees(self) -> int:
        return sum(kind.trees for kind in self.kinds)

    @property
    def mean(self) -> float:
        return sum(kind.trees * kind.mean for kind in self.kinds)

    @property
    def limits(self) -> Range:
        """From all kinds doing badly together to all doing well: the widest the kinds' own limits allow."""
        return self.of()

    def of(self, *, species_id: int | None = None, site_id: int | None = None) -> Range:
        """The same for one species, one site, or both."""
        chosen = [
            kind
            for kind in self.kinds
            if species_id in (None, kind.species_id) and site_id in (None, kind.site_id)
        ]
        return Range(
            sum(kind.trees * kind.low for kind in chosen), sum(kind.trees * kind.high for kind in chosen)
        )


def plan_that_counts(project: Project) -> Plan | None:
    """The newest approved plan, else the newest draft; only one that plants something."""
    planted = Plan.objects.filter(project=project, mix_lines__isnull=False).distinct()
    chosen = planted.filter(approved_at__isnull=False).order_by("-version").first()
    return chosen or planted.order_by("-version").first()


def expected_living(project: Project) -> ExpectedLiving:
    """Living trees expected of a project's plan, else of what was planted; a fixed number of queries."""
    plan = plan_that_counts(project)
    return of_plan(plan) if plan is not None else _of_planted(project)


def of_plan(plan: Plan) -> ExpectedLiving:
    """Living trees expected of one plan, at the survival written in its lines, else at what is foreseen."""
    lines = list(MixLine.objects.filter(plan=plan).select_related("block"))
    unknown = [line for line in lines if None in (line.survival_mean, line.survival_low, line.survival_high)]
    foreseen = _foreseen(plan.project, [(line.species_id, line.stock_type) for line in unknown])
    kinds, left_out = [], 0
    for line in lines:
        share: Share | None = (line.survival_mean, line.survival_low, line.survival_high)
        if line in unknown:
            share = foreseen[line.species_id, line.stock_type]
        if share is None:
            left_out += line.quantity
            continue
        kind = (line.block_id, line.block.site_id, line.species_id, line.stock_type)
        kinds.append(LivingKind(*kind, line.quantity, *share))
    return ExpectedLiving(kinds, plan, left_out)


def _of_planted(project: Project) -> ExpectedLiving:
    days = PlantingDay.objects.filter(
        cohort__unit__in=[Unit.TREE, Unit.SEED_SPOT], block__project=project, voided_at__isnull=True
    )
    columns = ("block_id", "block__site_id", "cohort__species_id", "cohort__stock_type")
    planted = list(days.order_by(*columns).values_list(*columns).annotate(n=Sum("quantity")))
    foreseen = _foreseen(project, [(species, stock) for _block, _site, species, stock, _n in planted])
    kinds, left_out = [], 0
    for block, site, species, stock, number in planted:
        share = foreseen[species, stock]
        if share is None:
            left_out += number
        else:
            kinds.append(LivingKind(block, site, species, stock, number, *share))
    return ExpectedLiving(kinds, left_out=left_out)


def _foreseen(
    project: Project, kinds: Iterable[tuple[int, str]]
) -> dict[tuple[int | None, str], Share | None]:
    """Mean and limits of each kind, None where nothing is known."""
    asked = list(kinds)
    if not asked:
        return {}
    found = foreseen_survival(project, asked)
    return {
        kind: None if each.is_missing else (each.mean, min(each.low, each.mean), max(each.high, each.mean))
        for kind, each in found.items()
    }
