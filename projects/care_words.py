"""The words of a care schedule: what to do, why, and on whose word; and what it does not ask for."""

from collections.abc import Mapping
from datetime import date
from math import floor, log10
from typing import Any

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from projects import figures
from projects.calc.care_schedule import PlannedCare

SOURCES = {
    "common_practice": gettext_lazy("common practice"),
    "water_balance": gettext_lazy("water balance of a mean year, FAO-56"),
    "from_memory": gettext_lazy("from memory, check locally"),
}
UNITS = {
    "litre": gettext_lazy("litres"),
    "tree": gettext_lazy("trees"),
    "spot": gettext_lazy("seed spots"),
    "": "",
}


def rule_name(rule: str) -> str:
    """A rule without the number that tells its second line in a year."""
    stem, _cut, last = rule.rpartition("_")
    return stem if last.isdigit() else rule


def what(line: PlannedCare) -> str:
    """What to do, as the task will say."""
    facts = line.facts
    return {
        "weeding": lambda: _("Weed a circle of %(wide)s around each tree") % {"wide": metres(facts)},
        "mulch": lambda: (
            _("Mulch %(deep)s cm deep, kept off the stem") % {"deep": number(facts["depth_cm"])}
            if line.year == 1
            else _("Renew mulch that has rotted away, kept off the stem")
        ),
        "water": lambda: ngettext(
            "Water %(n)s time, about %(litres)s L a tree", "Water %(n)s times, about %(litres)s L a tree in all",
            int(facts["times"]),
        ) % {"n": facts["times"], "litres": figures.quantity(line.each)},
        "guards_look": lambda: _("Look at every guard: upright, empty of weeds, not rubbing"),
        "guards_off": lambda: _("Take guards off and carry them away"),
        "stakes_look": lambda: _("Look at stakes: loosen ties, take away what is not needed"),
        "stakes_off": lambda: _("Take all stakes and ties away"),
        "shade_up": lambda: _("Shade the trees on the sunny side"),
        "shade_off": lambda: _("Take the shade away, in dull weather"),
        "soil_test": lambda: _("Have soil or leaves tested where growth is poor"),
    }[rule_name(line.rule)]()  # fmt: skip


def why(line: PlannedCare) -> str:
    """Why it is asked for, with its numbers."""
    facts = line.facts
    return {
        "weeding": lambda: (
            _("Weeds begin to grow about %(day)s; cut before they top the trees.")
            % {"day": figures.day(facts["season_from"])}
        ),
        "mulch": lambda: (
            _("Keeps weeds down and water in; %(litres)s L a tree.") % {"litres": figures.quantity(line.each)}
        ),
        "water": lambda: _water(line),
        "guards_look": lambda: _("Guards blow over, fill with weeds and rub the bark."),
        "guards_off": lambda: (
            _("After %(n)s years, or sooner where the stem fills the guard; plastic must not stay.")
            % {"n": facts["years"]}
        ),
        "stakes_look": lambda: _("Ties cut in as stems grow thick; a stem that moves grows strong."),
        "stakes_off": lambda: _("Stakes come away within twelve months, or trees never stand alone."),
        "shade_up": lambda: _("The species bears shade when young and stands on open ground."),
        "shade_off": lambda: _("It has taken root by then; shade kept too long draws it thin."),
        "soil_test": lambda: _("Fertilise only what a test shows to be lacking."),
    }[rule_name(line.rule)]()


def _water(line: PlannedCare) -> str:
    facts = line.facts
    months = ", ".join(
        f"{formats.date_format(date(*month, 1), 'M')} {figures.quantity(litres)} L"
        for month, litres in facts["by_month"]
    )
    return _(
        "A tree a month: %(months)s. Rules of thumb of extension services for a stem of %(cm)s cm: %(least)s to "
        "%(most)s L in all."
    ) % {
        "months": months, "cm": number(facts["calliper_cm"]), "least": figures.quantity(facts["thumb_least"]),
        "most": figures.quantity(facts["thumb_most"]),
    }  # fmt: skip


def hesitation(line: PlannedCare) -> str:
    """Why a line is not ticked from the start; empty for one that is."""
    if line.is_usual:
        return ""
    return {
        "water": lambda: (
            _("Rain usually does: no month here is dry by its normals.")
            if not line.facts["dry_months"]
            else _("The species stands as many dry months as the site has, once it has taken root.")
        ),
        "mulch": lambda: _("Only where the first has rotted away."),
        "soil_test": lambda: _("Only where growth gives reason to."),
    }[rule_name(line.rule)]()


def source(line: PlannedCare) -> str:
    """On whose word."""
    return str(SOURCES[line.source])


def amount(line: PlannedCare) -> float | None:
    """How much in all; litres to two figures, since they come of a balance and of round norms."""
    if line.amount is None or line.unit != "litre" or not line.amount:
        return line.amount
    digits = 1 - floor(log10(abs(line.amount)))
    return round(line.amount, digits)


def amount_words(line: PlannedCare) -> str:
    """How much in all, as a line of the schedule says it."""
    much = amount(line)
    if much is None:
        return ""
    words = {"number": figures.quantity(much), "unit": unit(line)}
    return (_("about %(number)s %(unit)s") if line.unit == "litre" else _("%(number)s %(unit)s")) % words


def unit(line: PlannedCare) -> str:
    """What the amount is of, as the task keeps it."""
    return str(UNITS[line.unit])


def note(name: str, facts: Mapping[str, Any]) -> str:
    """What the schedule does not ask for, or does not know."""
    return {
        "walk": lambda: _("A walk to look is due from %(first)s to %(last)s by itself; it is on the list of walks.")
        % {"first": figures.day(facts["due_from"]), "last": figures.day(facts["due_by"])},
        "seed": lambda: _(
            "Sown on the spot: no stakes, no mulch and no watering; weeding waits until seedlings are up "
            "(common practice)."
        )
        if facts["emerged_by"]
        else _(
            "Sown on the spot: no stakes, no mulch and no watering. When its seedlings come up is not known: "
            "weeding waits twelve weeks (common practice)."
        ),
        "amendment": lambda: _(
            "Nothing is mixed into the pit. Where a soil test asks for it, at most 10 to 20 %% of the pit: "
            "%(least)s to %(most)s L of %(pit)s L (common practice)."
        )
        % {
            "least": number(facts["least"]), "most": number(facts["most"]),
            "pit": figures.quantity(facts["pit_litres"]),
        },
        "no_climate": lambda: _(
            "No climate is on record for the site: weeding goes by the calendar of its latitude, and no watering is "
            "worked out."
        )
        if facts["latitude_known"]
        else _(
            "Neither climate nor place are on record for the site: weeding comes every four months, and no watering "
            "is worked out."
        ),
        "rain_suffices": lambda: _("Rain suffices in a mean year; no watering is proposed."),
        "shade_unknown": lambda: _("Whether the ground lies open is not known, so no shade is proposed.")
        if facts["light_known"]
        else _("How much light the species takes when young is not known, so no shade is proposed."),
        "no_guards": lambda: _("No guards are counted on. Say so above where each tree has one."),
    }[name]()  # fmt: skip


def metres(facts: Mapping[str, Any]) -> str:
    """The circle with its unit."""
    return figures.with_unit(facts["circle_m"], "m")


def number(value: Any) -> str:
    """A small number with at most one decimal."""
    return figures.quantity(value, 0 if float(value).is_integer() else 1)
