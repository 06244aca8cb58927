"""One site of a plan: map, rights, readiness, ground, climate, dangers and the number to call."""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures
from projects.documents import items as put
from projects.documents.items import Item


def site_items(site: dict[str, Any], blocks: list[dict[str, Any]], units: str) -> list[Item]:
    """A site's part of the document."""
    found = [
        put.heading(_("Site: %(name)s") % {"name": site["name"]}, 1),
        _emergency(site),
        *_map(site, blocks, units),
    ]
    where = ", ".join(part for part in (site["region"], site["country"]) if part)
    found.append(
        put.facts(
            [
                (_("Where"), where),
                (_("Area of the site"), _measure(site["area_ha"], "ha", units)),
                (_("Area of these blocks"), _measure(site["planted_ha"] or None, "ha", units)),
                (_("Elevation"), _measure(site["elevation_m"], "m_whole", units)),
                (_("How to get there"), site["access"]),
            ]
        )
    )
    return [*found, *_rights(site), *_readiness(site), *_ground(site, units), *_dangers(site, blocks)]


def _measure(number: float | None, unit: str, units: str) -> str:
    return "" if number is None else figures.with_unit(number, unit, units)  # type: ignore[arg-type]


def _day(text: str | None) -> str:
    return figures.day(date.fromisoformat(text)) if text else ""


def _emergency(site: dict[str, Any]) -> Item:
    if site["emergency"]:
        return put.box(_("In an emergency here call"), site["emergency"])
    return put.box(
        _("No emergency number is known for this site"),
        _(
            "Find out before anybody goes there: the number that answers here, where the telephone works, and how an "
            "ambulance gets in. Write it into the site, and on this line: ______________________"
        ),
        grave=True,
    )


def _map(site: dict[str, Any], blocks: list[dict[str, Any]], units: str) -> list[Item]:
    drawn = site["map"]
    if drawn is None:
        return [put.words(_("No boundary is drawn yet, so there is no map."), soft=True)]
    here = [block for block in blocks if block["number"] in drawn["drawn"]]
    without = [block for block in blocks if block["number"] not in drawn["drawn"]]
    said = {
        "south": coordinate(drawn["south"], _("N"), _("S")), "north": coordinate(drawn["north"], _("N"), _("S")),
        "west": coordinate(drawn["west"], _("E"), _("W")), "east": coordinate(drawn["east"], _("E"), _("W")),
    }  # fmt: skip
    extent = _("North is up. From %(south)s to %(north)s and from %(west)s to %(east)s (WGS 84).") % said
    names = "; ".join(_name(block, units) for block in here)
    caption = [_("Blocks: %(names)s.") % {"names": names}] if names else []
    if without:
        caption.append(
            _("Not drawn: %(names)s.") % {"names": "; ".join(_name(block, units) for block in without)}
        )
    caption.append(extent)
    shown = ngettext("Map of the site with %(n)s block.", "Map of the site with %(n)s blocks.", len(here))
    alt = " ".join([shown % {"n": len(here)}, *caption])
    return [put.picture(drawn["svg"], alt=alt, caption=" ".join(caption), width=74)]


def _name(block: dict[str, Any], units: str) -> str:
    area = _measure(block["net_area_ha"], "ha", units)
    return _("%(n)s %(name)s") % {"n": block["number"], "name": block["name"]} + (
        f" ({area})" if area else ""
    )


def coordinate(degrees: float, positive: str, negative: str) -> str:
    return f"{figures.quantity(abs(degrees), 5)}° {positive if degrees >= 0 else negative}"


def _rights(site: dict[str, Any]) -> list[Item]:
    found = [put.heading(_("Rights and agreements"), 2)]
    if not site["agreements"]:
        return [*found, put.words(_("None is written down."))]
    rows = [
        [row["kind"], row["reference"] or _("no reference"), _day(row["given_on"]), _day(row["ends_on"]) or _("no end"),
         row["state_words"]]
        for row in site["agreements"]
    ]  # fmt: skip
    columns = [
        put.column(_("What"), 4), put.column(_("Reference"), 3), put.column(_("Given on"), 3),
        put.column(_("Ends on"), 3), put.column(_("How it stands"), 2),
    ]  # fmt: skip
    held = _("Who gave them, and what was agreed in full, is held in the records and not printed here.")
    return [*found, put.table(columns, rows), put.words(held, soft=True)]


def _readiness(site: dict[str, Any]) -> list[Item]:
    found = [put.heading(_("Reasons not to plant"), 2)]
    blocking = [row["title"] for row in site["stops"] if row["blocks"]]
    if blocking:
        title = _("Not ready: each of these must be cleared, or a manager must answer for it")
        found.append(put.box(title, ", ".join(blocking), grave=True))
    for row in site["stops"]:
        if by := row["override"]:
            said = {"what": row["title"], "who": by["by"], "day": _day(by["on"]), "reason": by["reason"]}
            found.append(
                put.words(_("%(what)s: %(who)s answers for it since %(day)s. Reason: %(reason)s") % said)
            )
    cleared = [row["title"] for row in site["stops"] if row["state"] == "clear"]
    if cleared:
        found.append(put.words(_("Clear, as far as known: %(what)s.") % {"what": ", ".join(cleared)}))
    return found


def _ground(site: dict[str, Any], units: str) -> list[Item]:
    ground, soil, climate = site["ground"] or {}, site["soil"], site["climate"]
    slope = ground.get("slope_percent")
    rows = [
        (_("Was used for"), ground.get("was", "")),
        (_("Grows there now"), ground.get("grows_now", "")),
        (_("Will compete"), ground.get("competes", "")),
        (_("Trees already there"), ground.get("trees", "")),
        (_("Faces"), ground.get("aspect", "")),
        (_("Slope"), "" if slope is None else figures.percent(slope / 100)),
        (_("Light"), ground.get("light", "")),
        (_("Seed trees"), _away(ground.get("seed_source_m"), units)),
        (_("Soil"), soil_words(soil, units) or _("not yet sampled")),
        (_("Climate"), climate_words(climate) or _("not yet entered")),
    ]
    return [put.heading(_("Ground and climate"), 2), put.facts(rows)]


def _away(distance_m: float | None, units: str) -> str:
    if distance_m is None:
        return ""
    return _("%(distance)s away") % {"distance": figures.with_unit(distance_m, "m_whole", units)}  # type: ignore[arg-type]


def soil_words(soil: dict[str, Any] | None, units: str) -> str:
    """A sentence on the samples."""
    if not soil:
        return ""
    parts = [part for part in (soil["texture"], soil["drainage"]) if part]
    if soil["ph"] is not None:
        parts.append(_("pH %(n)s") % {"n": figures.quantity(soil["ph"], 1)})
    if soil["depth_cm"] is not None:
        parts.append(
            _("rooting depth %(depth)s") % {"depth": figures.with_unit(soil["depth_cm"], "cm", units)}
        )  # type: ignore[arg-type]
    rests = ngettext("mean of %(n)s sample", "mean of %(n)s samples", soil["n"]) % {"n": soil["n"]}
    return _("%(what)s (%(rests)s)") % {"what": ", ".join(parts) or _("nothing measured"), "rests": rests}


def climate_words(climate: dict[str, Any] | None) -> str:
    """A sentence on the monthly normals, with their source."""
    if not climate:
        return ""
    return _(
        "%(rain)s mm of rain a year, coldest month %(cold)s °C at night, hottest month %(hot)s °C by day, "
        "%(dry)s dry months. Source: %(source)s"
    ) % {
        "rain": figures.quantity(climate["rain_mm"]), "cold": figures.quantity(climate["coldest_month_c"], 1),
        "hot": figures.quantity(climate["hottest_month_c"], 1), "dry": climate["dry_months"],
        "source": climate["source"] or _("not stated"),
    }  # fmt: skip


def _dangers(site: dict[str, Any], blocks: list[dict[str, Any]]) -> list[Item]:
    said = [*site["hazards"]]
    said += [
        _("%(block)s: %(what)s") % {"block": block["name"], "what": block["hazards"]}
        for block in blocks
        if block["hazards"].strip()
    ]
    found = [put.heading(_("Dangers on this site"), 2)]
    return [
        *found,
        put.points(said)
        if said
        else put.words(_("None is written down, which does not mean there is none.")),
    ]
