"""A plan's content as pages in words, for a landholder, a permit office and a crew."""

from datetime import date
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from projects import figures, plan_words
from projects.documents import items as put
from projects.documents.block_pages import block_items
from projects.documents.items import Item
from projects.documents.site_pages import site_items
from projects.documents.sum_pages import crew_items, gain_items, living_items, money_items, order_items

Content = dict[str, Any]


def plan_pages(content: Content) -> dict[str, Any]:
    """Everything the document prints, in the organisation's language and units."""
    with override(content["language"]):
        return _pages(content)


def _pages(content: Content) -> dict[str, Any]:
    plan, project = content["plan"], content["project"]
    title = _("Planting plan: %(name)s") % {"name": project["name"]}
    version = _("version %(n)s") % {"n": plan["version"]}
    if plan["title"]:
        version = _("%(version)s, %(title)s") % {"version": version, "title": plan["title"]}
    language, _dash, region = content["language"].partition("-")
    return {
        "title": title, "author": content["organisation"], "lang": language, "region": region or None,
        "paper": "us-letter" if content["units"] == "us" else "a4",
        "running": f"{project['name']}, {version}", "state": state_of(plan), "is_draft": not plan["approved_on"],
        "footer": content["organisation"], "page_words": [_("page"), _("of")],
        "items": [
            put.words(f"{capfirst(version)}. {capfirst(state_of(plan))}.", strong=True),
            *_aim(content), *_overview(content), *_sites(content),
            *order_items(content), *crew_items(content), *money_items(content),
            *living_items(content), *gain_items(content),
            *_cautions(content), *_method(),
        ],
    }  # fmt: skip


def state_of(plan: dict[str, Any]) -> str:
    """Draft or approved, as every page says."""
    if not plan["approved_on"]:
        return _("draft, not approved")
    said = {"who": plan["approved_by"], "role": plan["approved_role"], "day": day(plan["approved_on"])}
    if plan["approved_role"]:
        return _("approved by %(who)s (%(role)s) on %(day)s") % said
    return _("approved by %(who)s on %(day)s") % said


def day(text: str | None) -> str:
    """A stored day in words."""
    return figures.day(date.fromisoformat(text)) if text else ""


def _aim(content: Content) -> list[Item]:
    project, plan = content["project"], content["plan"]
    found = [put.heading(_("What is planted, and what for"), 1)]
    found += [put.words(text) for text in (project["purpose"], plan["note"]) if text]
    target = _("%(share)s alive after %(n)s completed growing seasons (about %(months)s months)") % {
        "share": figures.percent(project["target_survival"]), "n": project["check_age_seasons"],
        "months": project["check_age_months"],
    }  # fmt: skip
    found.append(
        put.facts(
            [
                (_("For"), ", ".join(_weighed(use, weight) for use, weight in project["purposes"])),
                (_("Funder"), project["funder"]),
                (_("Counts as having worked"), target),
                (_("Living trees wanted"), measure(project["target_per_ha"], "per_ha", content)),
                (_("Planting season"), season_words(plan["season"]) or _("not yet decided")),
                (_("Second wave"), season_words(plan["second_season"])),
                (_("Begun from"), _("version %(n)s") % {"n": plan["based_on"]} if plan["based_on"] else ""),
            ]
        )
    )
    return found


def _weighed(use: str, weight: int) -> str:
    return _("%(use)s (weight %(n)s of 10)") % {"use": use, "n": weight}


def season_words(season: dict[str, Any] | None) -> str:
    if not season:
        return ""
    ends = [date.fromisoformat(season[name]) for name in ("starts_on", "ends_on")]
    return _("%(label)s, %(days)s") % {"label": season["label"], "days": figures.span(*ends)}


def measure(number: float | None, unit: str, content: Content) -> str:
    """A measure with its unit, empty where it is not known."""
    return "" if number is None else figures.with_unit(number, unit, content["units"])


def _overview(content: Content) -> list[Item]:
    totals, living = content["totals"], content["living"]
    if not totals["plants"]:
        return [put.box(_("Nothing is planted by this version yet"), _("The mix is not yet decided."))]
    plants, n_blocks, n_sites = totals["plants"], totals["blocks"], totals["sites"]
    planted = "; ".join(
        [
            ngettext("%(n)s plant", "%(n)s plants", plants) % {"n": figures.quantity(plants)},
            ngettext("%(n)s species", "%(n)s species", totals["species"]) % {"n": totals["species"]},
            ngettext("%(n)s block", "%(n)s blocks", n_blocks) % {"n": n_blocks},
            ngettext("%(n)s site", "%(n)s sites", n_sites) % {"n": n_sites},
            measure(totals["net_area_ha"], "ha", content),
        ]
    )
    costs = ", ".join(figures.money(minor, currency) for currency, minor in totals["plant_costs"])
    if totals["lines_without_price"]:
        number = totals["lines_without_price"]
        left_out = ngettext("%(n)s line has no price", "%(n)s lines have no price", number) % {"n": number}
        costs = f"{costs} ({left_out})" if costs else left_out
    rows = [
        (_("To plant"), planted),
        (_("Expected alive"), living_words(living)),
        (_("Price of the plants, spare ones not counted"), costs),
    ]
    return [put.facts(rows), _glance(content), _readers()]


def _glance(content: Content) -> Item:
    """Every block in one line."""
    columns = [
        put.column(_("Block"), 5), put.column(_("Site"), 4), put.column(_("Net area"), 2, right=True),
        put.column(_("Planting spots"), 2, right=True), put.column(_("Plants"), 2, right=True),
        put.column(_("Species"), 2, right=True),
    ]  # fmt: skip
    rows = [
        [
            f"{block['number']} {block['name']}", block["site"], measure(block["net_area_ha"], "ha", content),
            figures.quantity(block["spots"]), figures.quantity(block["plants"]), figures.quantity(block["species"]),
        ]
        for block in content["blocks"]
    ]  # fmt: skip
    return put.table(columns, rows, caption=_("Blocks at a glance; the numbers are those on the maps"))


def living_words(living: dict[str, Any] | None) -> str:
    """Expected living trees with their limits."""
    if not living:
        return ""
    said = {
        "mean": figures.quantity(living["mean"]), "low": figures.quantity(living["low"]),
        "high": figures.quantity(living["high"]),
    }  # fmt: skip
    return _("about %(mean)s living trees at the check age (%(low)s to %(high)s)") % said


def _readers() -> Item:
    return put.box(
        _("Where to look"),
        _("Landholders: the page of your site, and what people gain."),
        _(
            "Permit offices: rights, reasons not to plant and the map of each site; below it what goes into each block."
        ),
        _(
            "Crews: when to plant in each block, days of work, when not to plant, cautions, emergency numbers."
        ),
    )


def _sites(content: Content) -> list[Item]:
    """Each site on pages of its own, its blocks below it, so that a landholder can be given them."""
    if not content["sites"]:
        return [put.words(_("The project has no block on any site yet."))]
    found: list[Item] = []
    for site in content["sites"]:
        blocks = [block for block in content["blocks"] if block["site_uid"] == site["uid"]]
        found += [put.new_page(), *site_items(site, blocks, content["units"])]
        for block in blocks:
            found += block_items(block, content["units"])
    return found


def _cautions(content: Content) -> list[Item]:
    columns = [
        put.column(_("When"), 3), put.column(_("What can go wrong"), 5), put.column(_("Usual care"), 6),
        put.column(_("Whose word counts"), 5),
    ]  # fmt: skip
    rows = [[row["stage"], row["danger"], row["care"], row["ask"]] for row in content["cautions"]]
    numbers = [
        (site["name"], site["emergency"] or _("not known: ask before anybody goes"))
        for site in content["sites"]
    ]
    return [
        put.heading(_("Cautions, and whose word counts"), 1),
        put.words(plan_words.caution(), strong=True),
        *([put.heading(_("Emergency numbers"), 2), put.facts(numbers)] if numbers else []),
        put.table(columns, rows),
    ]  # fmt: skip


def _method() -> list[Item]:
    rows = plan_words.glossary()
    return [
        put.heading(_("How the figures came about, and their limits"), 1),
        *(put.words(text) for text in plan_words.method()),
        put.heading(_("A few words"), 2),
        put.facts([(word, meaning) for word, meaning in rows]),
    ]
