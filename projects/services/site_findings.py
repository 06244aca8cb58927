"""What a visit finds in the ground: soil samples and circles of young natural trees."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, RegenerationCircle, Site, SoilSample
from projects.services import editing

SAMPLE = (
    "label", "block", "taken_on", "texture", "ph", "organic_matter_percent", "depth_cm", "drainage", "latitude",
    "longitude",
)  # fmt: skip
CIRCLE = ("label", "block", "counted_on", "radius_m", "count", "species_note")
BOUNDS = {
    "ph": (2.5, 10.5), "organic_matter_percent": (0, 100), "depth_cm": (0, 1000), "latitude": (-90, 90),
    "longitude": (-180, 180), "radius_m": (0.5, 50), "count": (0, 100_000),
}  # fmt: skip


@transaction.atomic
def add_sample(*, actor: Actor, site: Site, **values: Any) -> SoilSample:
    """Add what one pit or auger hole showed."""
    values = _checked(actor, site, values, SAMPLE, "taken_on")
    with _label_taken_once():
        return editing.make(actor, SoilSample(site=site, **values), "soil.added")


@transaction.atomic
def edit_sample(*, actor: Actor, sample: SoilSample, version: str = "", **values: Any) -> SoilSample:
    """Change a soil sample."""
    values = _checked(actor, sample.site, values, SAMPLE, "taken_on")
    with _label_taken_once():
        return editing.change(actor, sample, values, "soil.edited", version=version)


@transaction.atomic
def remove_sample(*, actor: Actor, sample: SoilSample) -> None:
    """Take a sample away that should not be there; the history keeps that it was."""
    _may(actor, sample.site)
    history.record(actor, "soil.taken_away", sample)
    sample.delete()


@transaction.atomic
def add_circle(*, actor: Actor, site: Site, **values: Any) -> RegenerationCircle:
    """Add the young natural trees counted in one circle."""
    values = _checked(actor, site, values, CIRCLE, "counted_on")
    with _circle_counted_once():
        return editing.make(actor, RegenerationCircle(site=site, **values), "circle.added")


@transaction.atomic
def edit_circle(
    *, actor: Actor, circle: RegenerationCircle, version: str = "", **values: Any
) -> RegenerationCircle:
    """Change a circle."""
    values = _checked(actor, circle.site, values, CIRCLE, "counted_on")
    with _circle_counted_once():
        return editing.change(actor, circle, values, "circle.edited", version=version)


@transaction.atomic
def remove_circle(*, actor: Actor, circle: RegenerationCircle) -> None:
    """Take a circle away that should not be there; the history keeps that it was."""
    _may(actor, circle.site)
    history.record(actor, "circle.taken_away", circle)
    circle.delete()


def _label_taken_once() -> Any:
    return editing.refusing_duplicates("label", _("Another sample of this site has this label."))


def _circle_counted_once() -> Any:
    return editing.refusing_duplicates("label", _("This circle was already counted on that day."))


def _may(actor: Actor, site: Site) -> None:
    actor.require("block.edit")
    editing.ours(actor, site)


def _checked(
    actor: Actor, site: Site, values: Mapping[str, Any], names: tuple[str, ...], day: str
) -> dict[str, Any]:
    _may(actor, site)
    values = {name: value for name, value in values.items() if name in names}
    for name, (lowest, highest) in BOUNDS.items():
        value = values.get(name)
        if value is not None and not lowest <= value <= highest:
            words = _("Write a number from %(lowest)s to %(highest)s.")
            raise Refusal(words % {"lowest": lowest, "highest": highest}, field=name)
    if values.get(day) and values[day] > clocks.today_at(site):
        raise Refusal(_("This day has not come yet."), field=day, code="future")
    _check_place(site, values)
    return values


def _check_place(site: Site, values: Mapping[str, Any]) -> None:
    block: Block | None = values.get("block")
    if block is not None and block.site_id != site.pk:
        raise Refusal(_("This block is on another site."), field="block")
    missing = [name for name in ("latitude", "longitude") if name in values and values[name] is None]
    if len(missing) == 1:
        raise Refusal(_("A place needs both: latitude and longitude."), field=missing[0])
