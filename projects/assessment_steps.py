"""The steps of a site assessment: what each asks, in the order a visit takes them."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

from projects.calc.readiness import QUESTIONS
from projects.history import plain
from projects.models import Site, SiteAssessment

OF_SITE = ("emergency_contact",)
COSTLY, HELD_BACK = "shortfall_is_costly", "held_back"
ANSWERS = (*QUESTIONS, COSTLY, HELD_BACK)


@dataclass(frozen=True, slots=True)
class Step:
    """One page of the form. `fields` are of the assessment, of its answers or of the site."""

    key: str
    title: Any
    why: Any
    fields: tuple[str, ...] = ()
    needed: tuple[str, ...] = ()  # those without which the step counts as unfinished


LAND = Step(
    "land",
    _("Land use and vegetation"),
    _("What stood here decides what may stand here, and what young trees will have to outgrow."),
    (
        "visited_on", "land_use_history", "present_vegetation", "competing_vegetation", "existing_species",
        "seed_source_m", "seed_source_note",
    ),
    (
        "visited_on", "land_use_history", "present_vegetation", "competing_vegetation", "existing_species",
        "seed_source_m",
    ),
)  # fmt: skip
SHAPE = Step(
    "shape",
    _("Shape, light and dangers"),
    _("Which way the ground faces, how steep it is, and what a crew must know before walking in."),
    ("aspect", "slope_percent", "light", "salinity_ds_per_m", "hazards", "emergency_contact"),
    ("aspect", "slope_percent", "light", "hazards", "emergency_contact"),
)
SOIL = Step("soil", _("Soil samples"), _("One pit or auger hole in every kind of ground is enough to begin."))
CLIMATE = Step("climate", _("Climate"), _("Twelve months of temperature and rain, pasted or as a file."))
CONSENTS = Step(
    "consents", _("Rights and agreements"), _("Who agreed to what, until when, and what they gain.")
)
CIRCLES = Step(
    "circles",
    _("Young natural trees"),
    _("Count them in circles before planting: where enough stand, planting is money lost."),
    ("wanted_regenerants_per_ha", COSTLY, HELD_BACK),
    ("wanted_regenerants_per_ha",),
)
STOPS = Step(
    "stops",
    _("Reasons not to plant"),
    _("Each of these stops a plan until it is cleared or a manager answers for it by name."),
    tuple(QUESTIONS),
    tuple(QUESTIONS),
)
STEPS = (LAND, SHAPE, SOIL, CLIMATE, CONSENTS, CIRCLES, STOPS)
WITH_FORM = {step.key: step for step in STEPS if step.fields}


def values_of(site: Site, assessment: SiteAssessment, fields: tuple[str, ...]) -> dict[str, Any]:
    """What is stored for some fields, wherever it stands."""
    return {name: _stored(site, assessment, name) for name in fields}


def _stored(site: Site, assessment: SiteAssessment, name: str) -> Any:
    if name in ANSWERS:
        return assessment.answers.get(name, "")
    return getattr(site if name in OF_SITE else assessment, name)


def version_of(values: Mapping[str, Any]) -> str:
    """A token of a step's stored values: two people on two steps never meet each other."""
    text = json.dumps({name: plain(value) for name, value in values.items()}, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
