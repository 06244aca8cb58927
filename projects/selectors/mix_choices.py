"""What may be planted where in a plan: species that fit and are on offer, block by block, and what is left out."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Sum

from projects import clocks
from projects.calc.climate_summary import climate_summary
from projects.models import (
    Block,
    Holding,
    Layout,
    Plan,
    PlantingWindow,
    SiteAssessment,
    SoilSample,
    StockOffer,
    Unit,
)
from projects.selectors.foreseen_survival import ForeseenSurvival, foreseen_survival
from projects.selectors.mix_rules import PlanRules
from projects.selectors.offers import cheapest, current_offers
from projects.selectors.plan_windows import years_of
from projects.selectors.plans import Ground, PlanFrame
from projects.selectors.purposes import purpose_weights
from projects.selectors.site_facts import of_assessment, of_samples
from species.access import standing_ranges
from species.calc import suitability as fit
from species.calc.purposes import serves
from species.models import ShadeClass, Species
from species.selectors.facts import traits_of, vernacular_names

# Why something is left out.
UNFIT, FIT_UNKNOWN, INVASIVE, NO_REASON, NO_WINDOW, NO_SURVIVAL, OTHER_CURRENCY, BY_WEIGHT = (
    "unfit", "fit_unknown", "invasive", "no_reason", "no_window", "no_survival", "other_currency", "by_weight",
)  # fmt: skip


@dataclass(frozen=True)
class Candidate:
    """One species in one stock type that may be planted in one block."""

    ground: Ground
    species: Species
    stock_type: str
    offer: StockOffer
    survival: ForeseenSurvival
    worth: float | None  # None: nobody has told us what it is good for, or the project has no purposes
    status: str
    is_nurse: bool
    wave: int
    window_is_known: bool


@dataclass(frozen=True)
class LeftOut:
    """What may not be planted in a block (in any, where `block` is None), and why."""

    species: Species
    stock_type: str
    why: str
    block: Block | None = None


@dataclass(frozen=True)
class Choices:
    """Everything the search may choose from."""

    grounds: Sequence[Ground]
    spots: Mapping[int, int | None]  # by block key
    candidates: Sequence[Candidate]
    left_out: Sequence[LeftOut]
    names: Mapping[int, str]
    has_purposes: bool


def spots_of(plan: Plan, grounds: Iterable[Ground], rules: PlanRules) -> dict[int, int | None]:
    """Planting spots of each block: stated by hand, else trees of its holdings, else area and spacing, else target."""
    handed = dict(
        Holding.objects.filter(block__project_id=plan.project_id)
        .values_list("block_id")
        .annotate(n=Sum("trees_received"))
    )
    return {each.block.pk: _spots(each, handed, rules) for each in grounds}


def _spots(each: Ground, handed: Mapping[int, int], rules: PlanRules) -> int | None:
    stated = rules.spots.get(str(each.block.uid))
    if stated:
        return stated
    if each.block.layout == Layout.HOLDINGS:
        return handed.get(each.block.pk) or each.spots
    return each.spots


def choices_of(plan: Plan, frame: PlanFrame, rules: PlanRules) -> Choices:
    """Judge what is on offer for every block that is to be filled; a fixed number of queries."""
    chosen = set(rules.blocks)
    grounds = [each for each in frame.grounds if not chosen or str(each.block.uid) in chosen]
    organisation = plan.organisation
    offers = current_offers(organisation, clocks.today_of(organisation))
    bought = [offer for offer in offers if offer.unit != Unit.SEED_AREA]
    spots = spots_of(plan, grounds, rules)
    best = usable(bought, plan.project.currency, sum(each or 0 for each in spots.values()), rules)
    left = [
        LeftOut(offer.species, offer.stock_type, BY_WEIGHT)
        for offer in offers
        if offer.unit == Unit.SEED_AREA and (offer.species_id, offer.stock_type) not in best
    ]
    known = _Known(plan, [offer.species for offer in best.values()], list(best), grounds)
    candidates: list[Candidate] = []
    for each in grounds:
        years = years_of(each, known.samples.get(each.block.site_id, []), {stock for _species, stock in best})
        for offer in best.values():
            why = known.refusal(each, offer, years, rules)
            if why:
                left.append(LeftOut(offer.species, offer.stock_type, why, each.block))
            else:
                candidates.append(known.candidate(each, offer, offer.stock_type in years, rules))
    names = vernacular_names([offer.species_id for offer in best.values()])
    return Choices(
        grounds, spots, candidates, left, names, bool(known.weights)
    )  # fmt: skip


def usable(
    offers: Sequence[StockOffer], currency: str, spots: int, rules: PlanRules
) -> dict[tuple[int, str], StockOffer]:
    """The cheapest price of each kind that asks for no more plants than the rules allow, else the cheapest of all.

    A price for thousands does not stand in the way of the dearer one for a few.
    """
    most = spots * (rules.most_of_species or 1)
    few = [offer for offer in offers if offer.currency == currency and (offer.least_quantity or 0) <= most]
    return cheapest(offers, currency) | cheapest(few, currency)


class _Known:
    """Facts about species and places, read once for all blocks."""

    def __init__(
        self, plan: Plan, species: Iterable[Species], kinds: list[tuple[int, str]], grounds: Sequence[Ground]
    ) -> None:
        owner = plan.organisation.uid
        ids = {row.pk for row in species}
        sites = {each.block.site_id for each in grounds}
        self.currency = plan.project.currency
        self.weights = purpose_weights(plan.project)
        self.traits = traits_of(ids, organisation_uid=owner)
        self.survival = foreseen_survival(plan.project, kinds)
        self.status = {
            (row.species_id, row.country_code, row.region): row.status
            for row in standing_ranges(owner).filter(species_id__in=ids)
        }
        self.samples: dict[int, list[SoilSample]] = {}
        for sample in SoilSample.objects.filter(site_id__in=sites).order_by("id"):
            self.samples.setdefault(sample.site_id, []).append(sample)
        self.assessed = {row.site_id: row for row in SiteAssessment.objects.filter(site_id__in=sites)}
        blocks = [each.block.pk for each in grounds]
        self.windows = set(
            PlantingWindow.objects.filter(block_id__in=blocks).values_list("block_id", "stock_type")
        )
        self.facts = {each.block.pk: self._facts(each) for each in grounds}

    def _facts(self, each: Ground) -> dict[str, Any]:
        """As the chooser's page gathers them, from rows read for all blocks."""
        site, found = each.block.site, dict[str, Any]()
        if normals := site.climate_normals:
            climate = climate_summary(
                normals["mean_minimum_c"], normals["mean_maximum_c"], normals["rain_mm"]
            )
            found |= {
                name: getattr(climate, name) for name in ("rain_mm", "coldest_month_c", "hottest_month_c")
            }
            found["dry_months"] = float(climate.dry_months)
        if site.elevation_m is not None:
            found["altitude_m"] = float(site.elevation_m)
        rows = self.samples.get(site.pk, [])
        own = [row for row in rows if row.block_id == each.block.pk]
        found |= of_samples(own or [row for row in rows if row.block_id is None])
        if site.pk in self.assessed:
            told = of_assessment(self.assessed[site.pk])
            found |= {name: value for name, value in told.items() if value not in (None, "")}
        return found

    def status_in(self, species: Species, block: Block) -> str:
        """Status by the region's row, else by the country's."""
        site = block.site
        by_country = self.status.get((species.pk, site.country_code, ""), "unknown")
        return self.status.get((species.pk, site.country_code, site.region), by_country)

    def verdict(self, species: Species, block: Block) -> str:
        traits = {
            key: value if isinstance(value, tuple) else float(value)
            for key, value in self.traits.get(species.pk, {}).items()
        }
        return fit.suitability(traits, self.facts[block.pk]).verdict

    def refusal(self, each: Ground, offer: StockOffer, years: Mapping[str, Any], rules: PlanRules) -> str:
        """Why an offer is not for a block; empty where it is."""
        species, block, stock = offer.species, each.block, offer.stock_type
        status, verdict = self.status_in(species, block), self.verdict(species, block)
        if fit.answer_to_status(status) == fit.REFUSED:
            return INVASIVE
        if verdict not in (fit.FITS, fit.LIMITED):
            return UNFIT if verdict == fit.UNFIT else FIT_UNKNOWN
        if offer.currency != self.currency:
            return OTHER_CURRENCY
        if self.survival[species.pk, stock].is_missing:
            return NO_SURVIVAL
        if stock in years and not years[stock].windows and (block.pk, stock) not in self.windows:
            return NO_WINDOW
        return NO_REASON if fit.needs_reason(status) and not rules.reasons.get(str(species.pk)) else ""

    def candidate(
        self, each: Ground, offer: StockOffer, window_is_known: bool, rules: PlanRules
    ) -> Candidate:
        species, traits = offer.species, self.traits.get(offer.species_id, {})
        return Candidate(
            each, species, offer.stock_type, offer, self.survival[species.pk, offer.stock_type],
            serves(traits.get("uses"), self.weights), self.status_in(species, each.block),
            is_nurse(species, traits), wave_of(species, rules), window_is_known,
        )  # fmt: skip


def is_nurse(species: Species, traits: Mapping[str, Any]) -> bool:
    """By its role; where roles are not known, a light-demanding species counts as one."""
    roles = traits.get("roles")
    return "nurse" in roles if roles else species.shade_class == ShadeClass.LIGHT_DEMANDER


def wave_of(species: Species, rules: PlanRules) -> int:
    return 2 if rules.two_waves and species.shade_class == ShadeClass.SHADE_BEARER else 1
