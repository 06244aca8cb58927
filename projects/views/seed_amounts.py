"""How much seed to sow or gather, worked out of the reader's own figures."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from projects.calc import seed
from projects.calc.seed_spots import chance_spot_lives
from projects.forms import seed_amounts as forms

M2_PER_HA = 10_000


@require_GET
def seed_amount(request: HttpRequest) -> HttpResponse:
    request.actor.require("seed.view")
    asked = (
        ("sown", forms.SownForm, sown), ("living", forms.LivingForm, living), ("spots", forms.SpotsForm, spots),
        ("mothers", forms.ParentsForm, mothers), ("lots", forms.LotsForm, lots),
    )  # fmt: skip
    made = {name: kind(request.GET) for name, kind, _work_out in asked}
    context: dict[str, Any] = {
        name: {"form": made[name], "found": made[name].answer(work_out)} for name, _kind, work_out in asked
    }
    wrong = any(form.errors for form in made.values())
    return render(request, "projects/seed_amount.html", context, status=422 if wrong else 200)


def sown(
    plants_per_m2: float, area_m2: float, seeds_per_kg: float, purity: float, germination: float, hard_seed: float,
    field_establishment: float,
) -> dict[str, float]:  # fmt: skip
    """Seed of an area: hard seed counts as alive and is expected to sprout later."""
    alive = min(germination + hard_seed, 1.0)
    a_hectare = seed.sowing_kg_per_ha(plants_per_m2, seeds_per_kg, purity, alive, field_establishment)
    pure_live = seed.pure_live_share(purity, germination, hard_seed)
    kg = a_hectare * area_m2 / M2_PER_HA
    return {
        "kg_per_ha": a_hectare,
        "kg": kg,
        "pure_live": pure_live,
        "pure_live_kg": kg * pure_live,
        "alive": alive,
    }


def living(
    living_wanted: float, living_per_seed: float, seeds_per_kg: float, purity: float
) -> dict[str, float]:
    """Seed for living seedlings; what lives of a seed stands for germination and establishment together."""
    kg = seed.seed_for_living_kg(living_wanted, living_per_seed, seeds_per_kg, purity)
    return {"kg": kg, "seeds": living_wanted / living_per_seed}


def spots(
    spots: int, seeds_per_spot: int, seeds_per_kg: float, purity: float, living_per_seed: float, correlation: float
) -> dict[str, float]:  # fmt: skip
    """Seed of spots, and the share of spots with something alive."""
    return {
        "kg": seed.seed_for_spots_kg(spots, seeds_per_spot, seeds_per_kg, purity),
        "seeds": spots * seeds_per_spot,
        "alone": chance_spot_lives(living_per_seed, seeds_per_spot),
        "shared": chance_spot_lives(living_per_seed, seeds_per_spot, correlation),
        "one_more": chance_spot_lives(living_per_seed, seeds_per_spot + 1, correlation),
    }


def mothers(frequency: float, chance: float, *, selfing: bool) -> dict[str, float]:
    """Fewest mother trees, and the chance they give."""
    trees = seed.mother_trees_needed(frequency, chance, selfing=selfing)
    return {"trees": trees, "chance": seed.chance_allele_is_caught(frequency, trees, selfing=selfing)}


def lots(contributions: list[float]) -> dict[str, float]:
    """Equal parents that unequal ones are worth."""
    given = [part for part in contributions if part > 0]
    return {"parents": seed.effective_parents(given), "given": len(given), "largest": max(given) / sum(given)}
