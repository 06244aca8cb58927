"""What was sown, in words of its own: spots that hold a seedling and seedlings found, never “survival”."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from monitoring.models import CountLine
from monitoring.selectors.seeds import Sown
from projects import figures
from projects.models import Unit


def line_words(line: CountLine) -> str:
    """Say what one line of a sheet found of what was sown; nothing for planted trees."""
    if line.unit == Unit.TREE:
        return ""
    seedlings = line.seedlings
    if line.unit == Unit.SEED_AREA:
        return of_seeds(sown_of(line), line.alive if seedlings is None else seedlings)
    return " ".join(part for part in (of_spots(sown_of(line), line.alive), of_seedlings(seedlings)) if part)


def sown_of(line: CountLine) -> int | None:
    """Return the spots or seeds that were looked at, where it is known how many there are."""
    return None if line.planted is None else line.planted - line.not_assessed


def of_spots(spots: int | None, occupied: int) -> str:
    """Say the spot occupancy of some spots."""
    if not spots or occupied > spots:
        words = ngettext(
            "%(n)s seed spot holds a living seedling.", "%(n)s seed spots hold a living seedling.", occupied
        )
        return words % {"n": figures.quantity(occupied)}
    words = _("Spot occupancy: %(occupied)s of %(spots)s seed spots hold a living seedling (%(share)s).")
    return words % {
        "occupied": figures.quantity(occupied),
        "spots": figures.quantity(spots),
        "share": figures.percent(occupied / spots),
    }


def of_seedlings(seedlings: int | None) -> str:
    """Say how many seedlings were found in them."""
    if seedlings is None:
        return _("Seedlings were not counted.")
    words = ngettext("%(n)s seedling found.", "%(n)s seedlings found.", seedlings)
    return words % {"n": figures.quantity(seedlings)}


def of_seeds(seeds: int | None, seedlings: int) -> str:
    """Say the seedlings found of seeds sown."""
    if not seeds:
        return of_seedlings(seedlings)
    words = _("%(seedlings)s seedlings found of %(seeds)s seeds sown: %(rate)s per 100.")
    return words % {
        "seedlings": figures.quantity(seedlings),
        "seeds": figures.quantity(seeds),
        "rate": figures.quantity(100 * seedlings / seeds, 1),
    }


def round_words(sown: dict[str, Sown]) -> dict[str, str]:
    """Say for each measure of what was sown what its counted plots held, keyed by measure."""
    found = {}
    if spots := sown.get(Unit.SEED_SPOT):
        words = [of_spots(spots.planted, spots.alive)]
        if spots.seedlings is not None:
            text = _("Where seedlings were counted, %(occupied)s occupied spots held %(seedlings)s of them.")
            words.append(
                text
                % {
                    "occupied": figures.quantity(spots.looked_at),
                    "seedlings": figures.quantity(spots.seedlings),
                }
            )
        found["spot_occupancy"] = " ".join(words)
    if seeds := sown.get(Unit.SEED_AREA):
        found["seedlings_per_100_seeds"] = of_seeds(seeds.planted, seeds.alive)
    return found
