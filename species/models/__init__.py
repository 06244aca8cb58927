"""The species reference: what a species is called, what it tolerates, and where it is native or invasive."""

from species.models.names import SpeciesName, SpeciesSynonym
from species.models.ranges import RangeStatus
from species.models.species import GrowthForm, ShadeClass, Species
from species.models.traits import Basis, SpeciesTrait

__all__ = [
    "Basis",
    "GrowthForm",
    "RangeStatus",
    "ShadeClass",
    "Species",
    "SpeciesName",
    "SpeciesSynonym",
    "SpeciesTrait",
]
