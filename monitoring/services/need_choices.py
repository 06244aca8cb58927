"""What can be done about a shortfall: plant the same again, plant other stock, or accept fewer trees."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from monitoring.calc.replanting_dates import ReplantingDates
from monitoring.estimators.past_plantings import Foreseen
from monitoring.estimators.replacement import Need, Standing, replacement_need
from monitoring.estimators.rows import OK, rounded
from monitoring.selectors.need_inputs import Planting
from monitoring.services.replanting_evidence import told
from projects.models import StockType

if TYPE_CHECKING:
    from monitoring.services.needs import Place

MOST_OTHERS = 3


@dataclass(frozen=True)
class Asked:
    """One need as solved for the stock planted before."""

    species_id: int | None
    stock_type: str
    plantings: Sequence[Planting]
    standing: Standing
    solved: Need
    foreseen: Foreseen
    source: str
    dates: ReplantingDates | None


def facts(place: "Place", asked: Asked) -> dict[str, Any]:
    """What a page shows beside the number: what it rests on, the choices, what is missed by waiting."""
    if asked.solved.living is None:
        return {}
    rate = asked.standing.carry.rate
    found: dict[str, Any] = {
        "survival": told(asked.foreseen, asked.source),
        "carry": {
            "age_days": asked.standing.carry.age_days,
            "check_days": rounded(asked.standing.carry.check_days),
            "yearly_survival": rounded(rate.yearly_survival) if rate else None,
            "n_plantings": rate.n_plantings if rate else 0,
        },
        "accept": accepted(asked.solved),
        "choices": [],
    }
    if asked.solved.status == OK:
        found["choices"] = [
            choice(place, asked.stock_type, asked.solved, asked.foreseen, asked.source, asked.dates),
            *others(place, asked),
        ]
    return found


def accepted(solved: Need) -> dict[str, Any]:
    """What comes of planting nothing."""
    return {
        "living": solved.living_at_check,
        "lower": solved.check_lower,
        "upper": solved.check_upper,
        "chance": solved.chance_without,
    }


def choice(
    place: "Place",
    stock_type: str,
    solved: Need,
    foreseen: Foreseen,
    source: str,
    dates: ReplantingDates | None,
) -> dict[str, Any]:
    """One stock with its numbers, its survival and its dates."""
    window, missed = (dates.window, dates.missed) if dates else (None, None)
    return {
        "stock_type": stock_type,
        "n_expected": solved.n_expected,
        "n_assured": solved.n_assured,
        "survival": told(foreseen, source),
        "season": place.inputs.season_of(window.opens_on) if window else "",
        "opens_on": window.opens_on.isoformat() if window else None,
        "closes_on": window.closes_on.isoformat() if window else None,
        "order_by": dates.order_by.isoformat() if dates else None,
        "missed": [missed.opens_on.isoformat(), missed.closes_on.isoformat()] if missed else None,
    }


def others(place: "Place", asked: Asked) -> list[dict[str, Any]]:
    """The same need with each other stock type known here, those seen first; too large a number is left out."""
    found = []
    for stock_type in other_types(place, asked):
        dates = place.dates(stock_type, planted_as(place, stock_type))
        foreseen, source = place.evidence.foreseen(
            asked.species_id, stock_type, dates.window if dates else None
        )
        solved = replacement_need(
            asked.standing, asked.solved.target, foreseen.survival, assurance=asked.solved.assurance
        )
        if solved.status == OK:
            found.append(choice(place, stock_type, solved, foreseen, source, dates))
    return found[:MOST_OTHERS]


def other_types(place: "Place", asked: Asked) -> list[str]:
    """Other stock types that were seen here, or of which something is expected; those planted before first.

    Of one species only those in which it was planted or received: not every tree grows from a cutting.
    """
    counts, species = place.evidence.counts, asked.species_id
    here = {row.stock_type for row in counts}
    planted = {row.stock_type for row in counts if species in (None, row.species)}
    received = set(place.inputs.stock_types.get(species, ())) if species is not None else set()
    offered = planted | (received & (here | place.evidence.stated_types(species)))
    left_out = {asked.stock_type, StockType.DIRECT_SEED.value, ""}
    return sorted(offered - left_out, key=lambda name: (name not in planted, name))


def planted_as(place: "Place", stock_type: str) -> list[Planting]:
    """Plantings of the project in a stock type: their nursery's lead time is the one to reckon with."""
    rows = (row for plantings in place.inputs.plantings.values() for row in plantings)
    return [row for row in rows if row.stock_type == stock_type]
