"""What a mix is made of and what must hold: options, blocks and rules, as plain records."""

from dataclasses import dataclass, field

# Kinds of rule; a rule is a kind and what it is about.
SPOTS = "spots"  # no more trees than a block has spots; never given up
LEAST_PLANTED = "least_planted"
LEAST_LIVING = "least_living"
BUDGET = "budget"
ON_OFFER = "on_offer"  # what nurseries have; never given up
LOT_SIZE = "lot_size"
WHOLE_TRAYS = "whole_trays"
MOST_OF_SPECIES, MOST_OF_GENUS, MOST_OF_FAMILY = "most_of_species", "most_of_genus", "most_of_family"
LEAST_OF_SPECIES = "least_of_species"
SPECIES_NUMBER = "species_number"
NITROGEN = "nitrogen"
NURSES = "nurses"
SECOND_WAVE = "second_wave"
LIVING_WANTED = "living_wanted"
FIRM = (SPOTS, ON_OFFER)


@dataclass(frozen=True, slots=True)
class Option:
    """One species in one stock type for one block.

    Attributes
    ----------
    block, species, stock_type, genus, family : what it is.
    survival : expected share alive at the check age, 0..1.
    worth : how far one living tree serves the purposes, above 0; 1 for all makes it a count of trees.
    price : of one plant in the ground, in any one unit of money.
    fixes_nitrogen : whether it counts as a nitrogen fixer.
    wave : 1, or 2 for what goes in years later under nurse trees of the first wave.
    is_nurse : whether it shelters others while they are young.
    """

    block: str
    species: str
    stock_type: str
    genus: str
    family: str
    survival: float
    price: float
    worth: float = 1.0
    fixes_nitrogen: bool = False
    wave: int = 1
    is_nurse: bool = False


@dataclass(frozen=True, slots=True)
class Ground:
    """A block to fill.

    Attributes
    ----------
    name : the block.
    spots : planting spots there are.
    least_share : share of the spots that must be planted.
    least_living : expected living trees wanted at the check age; None for no such rule.
    least_species : species it must hold at least.
    """

    name: str
    spots: int
    least_share: float = 1.0
    least_living: float | None = None
    least_species: int = 1


@dataclass(frozen=True, slots=True)
class MixRules:
    """Rules over a plan; None leaves one out. Shares are of the trees planted in a block.

    Attributes
    ----------
    most_of_species, most_of_genus, most_of_family : largest share of one species, genus or family in a block
        (10, 20 and 30 % are offered as one preset, which was written for city streets and is contested).
    least_of_nitrogen_fixers : smallest share of nitrogen fixers in a block.
    least_when_used : smallest share of a species that is used in a block at all.
    least_of_nurses : smallest share of nurse trees in the first wave of a block that has a second one.
    most_in_second_wave : largest share of a block's spots that are kept free for a second wave.
    living_wanted : expected living trees wanted over all blocks.
    budget : most money for everything.
    on_offer : (species, stock type) → most plants to be had.
    lot_size : (species, stock type) → fewest plants a nursery sells, if any are bought.
    multiple_of : (species, stock type) → plants of a tray or bundle that is sold whole only.
    """

    most_of_species: float | None = None
    most_of_genus: float | None = None
    most_of_family: float | None = None
    least_of_nitrogen_fixers: float | None = None
    least_when_used: float | None = None
    least_of_nurses: float | None = None
    most_in_second_wave: float | None = None
    living_wanted: float | None = None
    budget: float | None = None
    on_offer: dict[tuple[str, str], int] = field(default_factory=dict)
    lot_size: dict[tuple[str, str], int] = field(default_factory=dict)
    multiple_of: dict[tuple[str, str], int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule by its kind and what it is about (a block, a species and stock type, or nothing)."""

    kind: str
    about: tuple[str, ...] = ()
