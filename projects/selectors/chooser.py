"""Which species fit a block: every species the organisation may see, judged and sorted, the limiting factor named."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from projects.models import Block, StockLot
from projects.selectors.ledgers import ledgers_of
from projects.selectors.site_facts import SiteFacts
from species.access import visible_species
from species.calc import suitability as fit
from species.models import Species
from species.selectors.facts import range_statuses, traits_of, vernacular_names

SCALES = {  # ends of each factor's drawing
    "rain": (0, 3000), "cold": (-30, 20), "heat": (10, 45), "drought": (0, 12), "altitude": (0, 3500),
    "soil_reaction": (3, 9), "soil_depth": (0, 200), "salinity": (0, 16),
}  # fmt: skip


@dataclass(frozen=True)
class Strip:
    """A tolerance against the site, in hundredths of the drawing's width."""

    factor: fit.Factor
    limits: tuple[float, float]  # between the absolute limits
    optimum: tuple[float, float]
    site: float | None


@dataclass(frozen=True)
class Choice:
    """One species for one block."""

    species: Species
    name: str
    status: str
    answer: str
    found: fit.Suitability
    strips: Sequence[Strip]
    in_stock: int


@dataclass(frozen=True)
class Wishes:
    """What to keep; empty keeps all."""

    status: str = ""
    shade: str = ""
    form: str = ""
    fixes_nitrogen: bool = False
    in_stock: bool = False


def choices(block: Block, site: SiteFacts, wishes: Wishes) -> list[Choice]:
    """Judge every species in use, best first, refused last, in a fixed number of queries."""
    rows = visible_species(block.organisation.uid).current()
    rows = narrowed(rows.order_by("folded", "id"), wishes)
    species = list(rows)
    ids = [row.pk for row in species]
    traits, names = traits_of(ids, organisation_uid=block.organisation.uid), vernacular_names(ids)
    statuses = range_statuses(
        ids, block.site.country_code, block.site.region, organisation_uid=block.organisation.uid
    )
    stock = on_hand(block)
    found = [
        choice(
            row, traits.get(row.pk, {}), site, names.get(row.pk, ""), statuses[row.pk], stock.get(row.pk, 0)
        )
        for row in species
    ]
    kept = [
        each
        for each in found
        if wishes.status in ("", each.status) and (each.in_stock or not wishes.in_stock)
    ]
    return sorted(kept, key=rank)


def narrowed(rows: QuerySet[Species], wishes: Wishes) -> QuerySet[Species]:
    """Wishes the species row itself answers."""
    if wishes.shade:
        rows = rows.filter(shade_class=wishes.shade)
    if wishes.form:
        rows = rows.filter(growth_form=wishes.form)
    if wishes.fixes_nitrogen:
        rows = rows.filter(is_nitrogen_fixer=True)
    return rows


def choice(species: Species, traits: dict, site: SiteFacts, name: str, status: str, in_stock: int) -> Choice:
    """Judge one species."""
    plain = {key: value if isinstance(value, tuple) else float(value) for key, value in traits.items()}
    found = fit.suitability(plain, site.facts)
    return Choice(
        species, name, status, fit.answer_to_status(status), found, strips(plain, found.factors), in_stock
    )


def rank(each: Choice) -> tuple:
    """Refused last, then unknown fit, then by fit; native before introduced; then by name."""
    score = -1.0 if each.found.score is None else each.found.score
    return (
        each.answer == fit.REFUSED,
        -score,
        each.answer != fit.WELCOME,
        len(each.found.unknown),
        each.species.folded,
    )


def strips(traits: dict, factors: Iterable[fit.Factor]) -> list[Strip]:
    """Drawings of the numeric factors the species has limits for."""
    keys = {name: names for name, _fact, names in fit.NUMBERS}
    drawn = []
    for factor in factors:
        if factor.name not in keys or factor.knowledge == fit.UNKNOWN_OF_SPECIES:
            continue
        low, high = SCALES[factor.name]
        points = [traits.get(key) for key in keys[factor.name]]
        absolute = (points[0] if points[0] is not None else low, points[3] if points[3] is not None else high)
        optimum = (points[1] if points[1] is not None else low, points[2] if points[2] is not None else high)
        site = factor.value if isinstance(factor.value, float) else None
        drawn.append(
            Strip(
                factor, spread(absolute, low, high), spread(optimum, low, high),
                None if site is None else across(site, low, high),
            )
        )  # fmt: skip
    return drawn


def spread(ends: tuple[float, float], low: float, high: float) -> tuple[float, float]:
    """(from, width) in hundredths."""
    start, end = across(ends[0], low, high), across(ends[1], low, high)
    return start, round(end - start, 1)


def across(value: float, low: float, high: float) -> float:
    return round(100 * min(max((value - low) / (high - low), 0), 1), 1)


def on_hand(block: Block) -> dict[int, int]:
    """Plants of each species that lots still hold, by their ledgers."""
    lots = list(StockLot.objects.filter(organisation=block.organisation).current().order_by("id"))
    ledgers, found = ledgers_of(lots), dict[int, int]()
    for lot in lots:
        found[lot.species_id] = found.get(lot.species_id, 0) + max(ledgers[lot.pk].at_hand, 0)
    return found
