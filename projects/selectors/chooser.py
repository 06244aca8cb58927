"""Which species fit a block: every species the organisation may see, judged and sorted, the limiting factor named."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from django.db.models import QuerySet

from projects import clocks
from projects.models import Block, ProjectPurpose, StockLot, StockOffer
from projects.selectors.ledgers import ledgers_of
from projects.selectors.offers import current_offers
from projects.selectors.site_facts import SiteFacts
from species.access import own_traits, visible_species
from species.calc import suitability as fit
from species.calc.purposes import serves
from species.models import RangeStatus, Species
from species.selectors.facts import range_rows, traits_of, vernacular_names

SCALES = {  # ends of each factor's drawing
    "rain": (0, 3000), "cold": (-30, 20), "heat": (10, 45), "drought": (0, 12), "altitude": (0, 3500),
    "soil_reaction": (3, 9), "soil_depth": (0, 200), "salinity": (0, 16),
}  # fmt: skip


@dataclass(frozen=True)
class Strip:
    """A tolerance against the site, in hundredths of the drawing's width; `points` are its numbers, None: no limit."""

    factor: fit.Factor
    limits: tuple[float, float]  # between the absolute limits
    optimum: tuple[float, float]
    site: float | None
    points: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class Choice:
    """One species for one block.

    `uses` and `roles` are None where nobody has told us; `serves` is the share of the project's purposes it serves,
    None where that is not known or the project has none. `told` is the row its status rests on.
    """

    species: Species
    name: str
    status: str
    answer: str
    found: fit.Suitability
    strips: Sequence[Strip]
    in_stock: int
    uses: tuple[str, ...] | None = None
    roles: tuple[str, ...] | None = None
    serves: float | None = None
    told: RangeStatus | None = None
    has_own: bool = False
    offers: Sequence[StockOffer] = ()

    @property
    def cheapest(self) -> Sequence[StockOffer]:
        """The cheapest offer of one plant in each currency: currencies are not compared."""
        found: dict[str, StockOffer] = {}
        for offer in self.offers:
            known = found.get(offer.currency)
            if known is None or offer.unit_price_minor < known.unit_price_minor:
                found[offer.currency] = offer
        return [found[currency] for currency in sorted(found)]

    @property
    def on_offer(self) -> int | None:
        """How many the offers name together; None when one of them names no number."""
        amounts = [offer.on_offer for offer in self.offers]
        return None if None in amounts else sum(amount or 0 for amount in amounts)


@dataclass(frozen=True)
class Wishes:
    """What to keep; empty keeps all."""

    status: str = ""
    shade: str = ""
    form: str = ""
    use: str = ""
    role: str = ""
    fixes_nitrogen: bool = False
    in_stock: bool = False
    on_offer: bool = False


def choices(block: Block, site: SiteFacts, wishes: Wishes) -> list[Choice]:
    """Judge every species in use, best first, refused last, in a fixed number of queries."""
    return [each for each in judged(block, site, wishes) if keeps(wishes, each)]


def judged(block: Block, site: SiteFacts, wishes: Wishes) -> list[Choice]:
    """Judge every species whose own row answers the wishes; what its facts and stock answer is left to `keeps`."""
    uid = block.organisation.uid
    rows = narrowed(visible_species(uid).current().order_by("folded", "id"), wishes)
    species = list(rows)
    ids = [row.pk for row in species]
    facts = Facts(
        traits=traits_of(ids, organisation_uid=uid),
        names=vernacular_names(ids),
        ranges=range_rows(ids, block.site.country_code, block.site.region, organisation_uid=uid),
        own=set(own_traits(uid).filter(species__in=ids).values_list("species_id", flat=True)),
        weights=dict(ProjectPurpose.objects.filter(project=block.project_id).values_list("use", "weight")),
        stock=on_hand(block),
        offers=offered(block),
    )
    return sorted((choice(row, facts, site) for row in species), key=rank)


@dataclass(frozen=True)
class Facts:
    """What is known of many species, by their ids."""

    traits: dict[int, dict]
    names: dict[int, str]
    ranges: dict[int, RangeStatus]
    own: set[int]
    weights: dict[str, float]
    stock: dict[int, int]
    offers: dict[int, list[StockOffer]]


def keeps(wishes: Wishes, each: Choice) -> bool:
    """Whether a choice answers the wishes about its facts and its stock; a fact nobody knows answers none."""
    return (
        wishes.status in ("", each.status)
        and (not wishes.use or wishes.use in (each.uses or ()))
        and (not wishes.role or wishes.role in (each.roles or ()))
        and (each.in_stock > 0 or not wishes.in_stock)
        and (bool(each.offers) or not wishes.on_offer)
    )


def unknown_to(wishes: Wishes, each: Choice) -> bool:
    """Whether only a fact that nobody has told keeps a choice out: it may answer the wish after all."""
    use_unknown, role_unknown = (
        each.uses is None and wishes.use != "",
        each.roles is None and wishes.role != "",
    )
    asked = replace(wishes, use="" if use_unknown else wishes.use, role="" if role_unknown else wishes.role)
    return (use_unknown or role_unknown) and keeps(asked, each)


def narrowed(rows: QuerySet[Species], wishes: Wishes) -> QuerySet[Species]:
    """Wishes the species row itself answers."""
    if wishes.shade:
        rows = rows.filter(shade_class=wishes.shade)
    if wishes.form:
        rows = rows.filter(growth_form=wishes.form)
    if wishes.fixes_nitrogen:
        rows = rows.filter(is_nitrogen_fixer=True)
    return rows


def choice(species: Species, facts: Facts, site: SiteFacts) -> Choice:
    """Judge one species."""
    traits = facts.traits.get(species.pk, {})
    plain = {key: value if isinstance(value, tuple) else float(value) for key, value in traits.items()}
    found, told = fit.suitability(plain, site.facts), facts.ranges.get(species.pk)
    status = str(RangeStatus.Status.UNKNOWN) if told is None else told.status
    uses = traits.get("uses")
    return Choice(
        species, facts.names.get(species.pk, ""), status, fit.answer_to_status(status), found,
        strips(plain, found.factors), facts.stock.get(species.pk, 0), uses, traits.get("roles"),
        serves(uses, facts.weights), told, species.pk in facts.own, facts.offers.get(species.pk, []),
    )  # fmt: skip


def rank(each: Choice) -> tuple:
    """Refused last, then unknown fit, then by fit; native first; then what serves the purposes most; then by name."""
    score = -1.0 if each.found.score is None else each.found.score
    return (
        each.answer == fit.REFUSED,
        -score,
        each.answer != fit.WELCOME,
        -1.0 if each.serves is None else -each.serves - 1.0,
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
                None if site is None else across(site, low, high), tuple(points),
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


def offered(block: Block) -> dict[int, list[StockOffer]]:
    """What nurseries sell of each species on the site's day, the cheapest of a currency first."""
    found: dict[int, list[StockOffer]] = {}
    for offer in current_offers(block.organisation, clocks.today_at(block.site)):
        found.setdefault(offer.species_id, []).append(offer)
    return found
