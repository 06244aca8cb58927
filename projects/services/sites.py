"""Sites: a piece of country with its boundary, clock and emergency number."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import countries
from projects.access import Actor
from projects.calc.carbon import ZONES
from projects.errors import Refusal
from projects.models import Site
from projects.services import archiving, editing
from projects.services.boundaries import site_boundary
from projects.services.organisations import known_zone

FIELDS = (
    "name", "country_code", "region", "time_zone", "boundary", "gross_area_ha", "elevation_m", "description",
    "access_notes", "emergency_contact", "climate_normals", "climate_source", "ecological_zone",
)  # fmt: skip


@transaction.atomic
def make_site(*, actor: Actor, **values: Any) -> Site:
    """Add a site; its area is measured from the boundary where one is given."""
    actor.require("site.edit")
    return editing.make(actor, Site(**_checked(values, values.get("country_code", ""))), "site.made")


@transaction.atomic
def edit_site(*, actor: Actor, site: Site, version: str = "", **values: Any) -> Site:
    """Change a site."""
    actor.require("site.edit")
    editing.ours(actor, site)
    country_code = values.get("country_code", site.country_code)
    values = _checked(values, country_code, site.boundary if country_code == site.country_code else None)
    return editing.change(actor, site, values, "site.edited", version=version)


def _checked(
    values: dict[str, Any], country_code: str, standing: dict[str, Any] | None = None
) -> dict[str, Any]:
    """Keep what may be stored; a boundary that stands already is not asked about again."""
    lies_there = bool(values.get("lies_there"))
    values = {name: value for name, value in values.items() if name in FIELDS}
    if country_code not in countries.names():
        raise Refusal(_("Choose the country; its code is two letters, such as PT."), field="country_code")
    known_zone(values.get("time_zone"))
    if values.get("ecological_zone") and values["ecological_zone"] not in ZONES:
        raise Refusal(_("Choose one of the zones listed."), field="ecological_zone")
    if values.get("boundary"):
        found = site_boundary(
            values["boundary"], country_code=country_code, lies_there=lies_there, standing=standing
        )
        values |= {"boundary": found.geometry, "gross_area_ha": round(found.area_ha, 4)}
    elif "boundary" in values:
        values["boundary"] = None
    area = values.get("gross_area_ha")
    if area is not None and area <= 0:
        raise Refusal(_("An area lies above 0 hectares."), field="gross_area_ha")
    return values


@transaction.atomic
def archive_site(*, actor: Actor, site: Site, reason: str = "") -> Site:
    """Put a site away once its blocks are."""
    actor.require("site.edit")
    in_use = site.blocks.current().count()
    if in_use:
        raise Refusal(
            _("Put its blocks away first: %(number)s still in use.") % {"number": in_use}, code="in_use"
        )
    return archiving.put_away(actor=actor, row=site, verb="site", reason=reason)


@transaction.atomic
def restore_site(*, actor: Actor, site: Site) -> Site:
    """Bring a site back."""
    actor.require("site.edit")
    return archiving.bring_back(actor=actor, row=site, verb="site")
