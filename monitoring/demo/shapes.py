"""The parts a scenario is made of. Tables fill them in; nothing here knows a database."""

from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True)
class Lot:
    """Plants (or seed spots) that travelled together, and everything that became of them."""

    code: str
    nursery: str
    species: str
    stock_type: str
    received_on: date
    received: int
    lifted_on: date | None = None
    unit_cost_minor: int = 0
    age_code: str = ""
    provenance: str = ""
    note: str = ""
    stores: tuple[tuple[str, date, date | None], ...] = ()  # kind, from, until
    movements: tuple[tuple[str, int, date, str], ...] = ()  # kind, quantity, day, note
    takes: tuple[tuple[date, int, str], ...] = ()  # day, on hand, note

    @property
    def unit(self) -> str:
        """Seed is counted in spots, plants as trees."""
        return "seed_spot" if self.stock_type == "direct_seed" else "tree"


@dataclass(frozen=True)
class Planting:
    """One lot in one block, and the share of it that truly lives in each round.

    `survival` maps a round key to the true share alive. `overlooked` is the share of living trees whose spot
    crews cannot find. A rise in `survival` is resprouting from the base. `baseline` is how the number planted in
    a plot became known.
    """

    species: str
    days: tuple[tuple[date, int], ...]  # day, quantity
    survival: dict[str, float]
    lot: str = ""
    stock_type: str = ""
    overlooked: float = 0.0
    losses: dict[str, float] = field(default_factory=dict)  # sign -> share of the dead stems that show it
    replaces: str = ""  # lot code
    thinned: tuple[date, float] | None = None  # day, share of the living taken out
    height_cm: tuple[int, int] = (25, 30)  # at planting, growth a year
    seedlings: float = 0.0  # mean seedlings beyond the first in an occupied seed spot
    baseline: str = "at_planting"
    season: str = ""

    @property
    def quantity(self) -> int:
        """How many were planted in all."""
        return sum(number for _day, number in self.days)

    @property
    def unit(self) -> str:
        """Seed is counted in spots, plants as trees."""
        return "seed_spot" if self.stock_type == "direct_seed" else "tree"


@dataclass(frozen=True)
class Regeneration:
    """Natural seedlings a plot holds on average, by height class, from a round on."""

    species: str
    lower: float
    upper: float
    rounds: tuple[str, ...]
    name: str = ""


@dataclass(frozen=True)
class Farm:
    """One holding of a list: how many of each lot it received."""

    label: str
    east_m: float
    north_m: float
    trees: dict[str, int]  # lot code -> trees


@dataclass(frozen=True)
class BlockPlan:
    """A block: where it lies in its site, how it was planted, how it is sampled."""

    name: str
    site: str
    project: str
    corners_m: tuple[tuple[float, float], ...]  # east, north of the site's corner, anticlockwise
    plantings: tuple[Planting, ...]
    plots: int
    shape: str = "circle"
    radius_m: float | None = None
    spots: int | None = None
    row_spacing_m: float | None = 2.5
    in_row_spacing_m: float | None = 2.5
    pattern: str = "square"
    exclusions_ha: float = 0.0
    target_stocking_per_ha: int | None = None
    aspect_note: str = ""
    hazards: str = ""
    regeneration: tuple[Regeneration, ...] = ()
    origin_uncertain: float = 0.0  # share of the living that may be natural seedlings of the same species
    bare_plots: float = 0.0  # share of the plots that lie in a gap
    rounds: tuple[str, ...] = ()
    farms: tuple[Farm, ...] = ()
    loose_baselines: int = 0  # the last plots have no baseline at all
    drawn_by: str = ""  # method of a stored draw, in a block whose plots anyone can draw again
    spares: int = 0


@dataclass(frozen=True)
class SitePlan:
    """A site: its corner on the globe, its outline in metres, its weather."""

    name: str
    country_code: str
    region: str
    time_zone: str
    latitude: float
    longitude: float
    outline_m: tuple[tuple[float, float], ...]
    elevation_m: int
    description: str
    access_notes: str
    emergency_contact: str
    rain_mm: tuple[float, ...]
    minimum_c: tuple[float, ...]
    maximum_c: tuple[float, ...]


@dataclass(frozen=True)
class RoundPlan:
    """A survey round of a project."""

    key: str
    project: str
    name: str
    season: str
    opens_on: date
    closes_on: date
    is_open: bool = False
    waiting_plots: tuple[tuple[str, str], ...] = ()  # block, plot not visited yet


@dataclass(frozen=True)
class Special:
    """Something out of the ordinary about one plot in one round.

    `kind`: destroyed · missing · second_count · over_baseline · correction.
    """

    kind: str
    block: str
    plot: str
    round: str
    reason: str = ""
    settled: str = ""  # what the field lead wrote when settling it


@dataclass(frozen=True)
class PersonPlan:
    """A role in the demo. Members sign in; the others only carry a phone."""

    key: str
    name: str
    role: str
    email: str = ""
    projects: tuple[str, ...] = ()


@dataclass(frozen=True)
class ProjectPlan:
    """A project and what counts as having worked."""

    name: str
    purpose: str
    funder_name: str
    target_survival: str
    check_age_seasons: int
    check_age_months: int
    target_stocking_per_ha: int | None
    budget_minor: int
    has_baseline: bool = True


@dataclass(frozen=True)
class BudgetPlan:
    """Money of a project in one season."""

    project: str
    season: str
    what: str
    planned_minor: int
    spent_minor: int
    kind: str = "planting"


@dataclass(frozen=True)
class WindowPlan:
    """When one stock type may go into one block in the coming season."""

    block: str
    stock_type: str
    opens_on: date
    closes_on: date
    opens_because: str
    closes_because: str


@dataclass(frozen=True)
class OfferPlan:
    """One line of a nursery's price list."""

    nursery: str
    species: str
    stock_type: str
    price_minor: int
    on_offer: int | None = None
    least: int | None = None
    weeks: int | None = None
    age_code: str = ""


@dataclass(frozen=True)
class CausePlan:
    """What the field lead said killed trees of a block, or of one of its species."""

    round: str
    block: str
    cause: str
    note: str
    share: str = ""
    species: str = ""


@dataclass(frozen=True)
class OrganisationPlan:
    """One whole organisation."""

    slug: str
    name: str
    time_zone: str
    currency: str
    emergency_contact: str
    people: tuple[PersonPlan, ...]
    seasons: tuple[tuple[str, str, date, date], ...]  # kind, label, from, to
    projects: tuple[ProjectPlan, ...]
    sites: tuple[SitePlan, ...]
    nurseries: tuple[tuple[str, int, str], ...]  # name, lead time in weeks, notes
    lots: tuple[Lot, ...]
    blocks: tuple[BlockPlan, ...]
    rounds: tuple[RoundPlan, ...]
    specials: tuple[Special, ...]
    budget: tuple[BudgetPlan, ...]
    windows: tuple[WindowPlan, ...]
    causes: tuple[CausePlan, ...] = ()
    offers: tuple[OfferPlan, ...] = ()

    def lot(self, code: str) -> Lot:
        """Return one lot by its code."""
        return next(lot for lot in self.lots if lot.code == code)

    def block(self, name: str) -> BlockPlan:
        """Return one block by its name."""
        return next(block for block in self.blocks if block.name == name)

    def site(self, name: str) -> SitePlan:
        """Return one site by its name."""
        return next(site for site in self.sites if site.name == name)

    def season_of(self, day: date) -> str:
        """Return the label of the planting season that holds a day."""
        return next(
            label for kind, label, start, end in self.seasons if kind == "planting" and start <= day <= end
        )
