"""One block of a plan: what goes in, how many, how far apart, and when."""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from projects import figures
from projects.documents import items as put
from projects.documents.items import Item


def block_items(block: dict[str, Any], units: str) -> list[Item]:
    """A block's part of the document."""
    title = _("Block %(n)s: %(block)s") % {"n": block["number"], "block": block["name"]}
    return [
        put.heading(title, 2), put.facts(_facts(block, units)),
        *_mix(block), *_reasons(block), *_windows(block),
    ]  # fmt: skip


def _facts(block: dict[str, Any], units: str) -> list[tuple[str, str]]:
    def measure(name: str, unit: str) -> str:
        return "" if block[name] is None else figures.with_unit(block[name], unit, units)  # type: ignore[arg-type]

    spacing = ""
    if block["in_row_spacing_m"] is not None:
        spacing = _("%(pattern)s, %(rows)s between rows, %(in_row)s in the row") % {
            "pattern": block["pattern"], "rows": measure("row_spacing_m", "m") or figures.NO_FIGURE,
            "in_row": measure("in_row_spacing_m", "m"),
        }  # fmt: skip
    spots = "" if block["spots"] is None else figures.quantity(block["spots"])
    if spots and block["per_ha"] is not None:
        spots = _("%(n)s (%(density)s)") % {"n": spots, "density": measure("per_ha", "per_ha")}
    varied = ""
    if block["effective_species"] is not None:
        varied = _(
            "%(n)s species; as varied as %(exp)s equally common ones (exp H), or %(simpson)s (1 / sum of p²)"
        ) % {
            "n": block["species"], "exp": figures.quantity(block["effective_species"], 1),
            "simpson": figures.quantity(block["inverse_simpson"], 1),
        }  # fmt: skip
    return [
        (_("Net area"), measure("net_area_ha", "ha")),
        (_("Spacing"), spacing),
        (_("Planting spots"), spots),
        (_("Living trees wanted"), measure("target_per_ha", "per_ha")),
        (_("Aspect and ground"), block["aspect"]),
        (_("Chance of reaching it"), chance_words(block["chance"])),
        (_("Planted before"), before_words(block.get("planted_before", 0))),
        (_("How varied"), varied),
    ]


def before_words(planted: int) -> str:
    """What a plan leaves out where trees went in earlier."""
    if not planted:
        return ""
    words = _("%(n)s trees went in here on earlier days; those alive are in no number of this plan")
    return words % {"n": figures.quantity(planted)}


def chance_words(chance: dict[str, Any] | None) -> str:
    """How likely the living trees wanted are, and what would make them sure enough."""
    if not chance:
        return ""
    said = {
        "chance": figures.percent(chance["chance"]), "target": figures.quantity(chance["target"]),
        "n": figures.quantity(chance["n_assured"]),
    }  # fmt: skip
    words = _("%(chance)s for %(target)s living trees") % said
    if chance["is_enough"]:
        return _("%(words)s: as sure as this plan asks") % {"words": words}
    more = _("%(words)s; %(n)s plants at the same proportions would be as sure as this plan asks")
    more %= said | {"words": words}
    return _("%(words)s, more than there are spots") % {"words": more} if chance["does_not_fit"] else more


def _mix(block: dict[str, Any]) -> list[Item]:
    if not block["lines"]:
        return [put.words(_("What is planted here is not yet decided."))]
    waves = {line["wave"] for line in block["lines"]}
    columns = [
        put.column(_("Species"), 6), put.column(_("Stock type"), 4),
        *([put.column(_("Wave"), 1, right=True)] if waves != {1} else []),
        put.column(_("Plants"), 2, right=True), put.column(_("Share"), 2, right=True),
        put.column(_("Expected alive"), 5),
    ]  # fmt: skip
    rows = [_row(line, with_wave=waves != {1}) for line in block["lines"]]
    blank = [""] if waves != {1} else []
    total = [_("All"), "", *blank, figures.quantity(block["plants"]), "", ""]
    found = [put.table(columns, rows, total=total)]
    sources = sorted({line["survival_source"] for line in block["lines"] if line["survival_source"]})
    if sources:
        found.append(put.words(_("Survival rests on: %(what)s.") % {"what": "; ".join(sources)}, soft=True))
    return found


def _row(line: dict[str, Any], *, with_wave: bool) -> list[str]:
    name = f"{line['species']} ({line['name']})" if line["name"] else line["species"]
    alive = _("%(mean)s (%(limits)s)") % {
        "mean": figures.percent(line["survival_mean"]),
        "limits": figures.interval_words(line["survival_low"], line["survival_high"]),
    }  # fmt: skip
    if line["survival_mean"] is None:
        alive = _("not known")
    wave = [figures.quantity(line["wave"])] if with_wave else []
    return [
        name, line["stock_words"], *wave, figures.quantity(line["quantity"]), figures.percent(line["share"]), alive
    ]  # fmt: skip


def _reasons(block: dict[str, Any]) -> list[Item]:
    """Why species from elsewhere are planted."""
    said: dict[str, str] = {}
    for line in block["lines"]:
        if line["status"] == "introduced":
            said[line["species"]] = line["introduced_reason"] or _("no reason is written down")
    return [
        put.words(_("%(species)s comes from elsewhere: %(reason)s") % {"species": species, "reason": reason})
        for species, reason in said.items()
    ]


def _windows(block: dict[str, Any]) -> list[Item]:
    if not block["windows"]:
        return [put.words(_("When to plant here is not yet decided: no window is written down."))]
    columns = [
        put.column(_("Stock type"), 3), put.column(_("From"), 3), put.column(_("Why not earlier"), 4),
        put.column(_("Best week begins"), 3), put.column(_("Latest day"), 3), put.column(_("Why not later"), 4),
    ]  # fmt: skip
    rows = [
        [
            row["stock_words"], _day(row["opens_on"]), row["opens_because"], _day(row["best_on"]) or figures.NO_FIGURE,
            _day(row["closes_on"]), row["closes_because"],
        ]
        for row in block["windows"]
    ]  # fmt: skip
    sources = sorted({row["source"] for row in block["windows"]})
    rests = _("Latest day with time to root. Windows: %(what)s.") % {"what": "; ".join(sources)}
    return [put.table(columns, rows, caption=_("When to plant")), put.words(rests, soft=True)]


def _day(text: str | None) -> str:
    return figures.day(date.fromisoformat(text)) if text else ""
