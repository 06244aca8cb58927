"""The sheets of a plan's workbook: columns with their units and meaning, and rows of plain values. Always metric."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from projects.figures import MINOR_DIGITS

Content = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Head:
    """A column: its title, unit and what it holds."""

    title: str
    unit: str
    means: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet."""

    title: str
    columns: Sequence[Head]
    rows: Sequence[Sequence[Any]]

    @classmethod
    def of(cls, title: str, columns: Iterable[tuple[str, str, str]], rows: Iterable[Sequence[Any]]) -> Sheet:
        return cls(title, [Head(*each) for each in columns], [list(row) for row in rows])


def sheets_of(content: Content) -> list[Sheet]:
    """Every sheet; one without rows says by its empty rows that nothing is decided."""
    return [
        overview(content), blocks(content), mix(content), windows(content), orders(content), deliveries(content),
        budget(content), benefits(content), cautions(content),
    ]  # fmt: skip


def day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def whole(minor: int | None, currency: str) -> float | None:
    """Minor units as whole units of money."""
    return None if minor is None else float(Decimal(minor).scaleb(-MINOR_DIGITS.get(currency, 2)))


def overview(content: Content) -> Sheet:
    plan, project, totals = content["plan"], content["project"], content["totals"]
    living, season = content["living"] or {}, plan["season"] or {}
    rows = [
        [_("Project"), project["name"], ""],
        [_("Version"), plan["version"], ""],
        [_("Title"), plan["title"], ""],
        [_("How it stands"), _("approved") if plan["approved_on"] else _("draft, not approved"), ""],
        [_("Approved on"), day(plan["approved_on"]), ""],
        [_("Approved by"), plan["approved_by"], ""],
        [_("Planting season"), season.get("label", ""), ""],
        [_("Season begins"), day(season.get("starts_on")), ""],
        [_("Season ends"), day(season.get("ends_on")), ""],
        [_("Plants"), totals["plants"], _("plants")],
        [_("Species"), totals["species"], ""],
        [_("Net area"), totals["net_area_ha"], "ha"],
        [_("Expected living trees"), living.get("mean"), _("trees")],
        [_("Expected living trees, lower limit"), living.get("low"), _("trees")],
        [_("Expected living trees, upper limit"), living.get("high"), _("trees")],
        [_("How sure to reach the target"), plan["assurance"], _("share")],
        [_("Culled on arrival"), plan["cull_share"], _("share")],
        [_("Lost in handling"), plan["handling_loss_share"], _("share")],
        [_("Spare weeks before planting"), plan["slack_weeks"], _("weeks")],
        [_("People who plant"), plan["crew_people"], _("people")],
        [_("Trees one person plants in a day"), plan["trees_per_person_day"], _("trees")],
    ]
    for site in content["sites"]:
        said = site["emergency"] or _("not known: ask before anybody goes")
        rows.append([_("Emergency number, %(site)s") % {"site": site["name"]}, said, ""])
    columns = [
        (_("What"), "", _("a fact of the plan")),
        (_("Value"), "", _("its value; in the unit beside it")),
        (_("Unit"), "", _("the unit of the value")),
    ]
    return Sheet.of(_("Overview"), columns, rows)


def blocks(content: Content) -> Sheet:
    columns = [
        (_("Number"), "", _("number of the block on the maps")),
        (_("Block"), "", _("name of the block")),
        (_("Site"), "", _("the site it lies on")),
        (_("Net area"), "ha", _("area that is planted")),
        (_("Between rows"), "m", _("distance between rows")),
        (_("In the row"), "m", _("distance in the row")),
        (_("Density"), _("spots per ha"), _("planting spots per hectare by the spacing")),
        (_("Spots"), _("spots"), _("planting spots there are")),
        (_("Plants"), _("plants"), _("plants of both waves")),
        (_("Species"), _("species"), _("species planted")),
        (_("Varied as"), _("species"), _("exp(H): how many equally common species would be as varied")),
        (_("Living trees wanted"), _("trees per ha"), _("target at the check age")),
    ]
    names = (
        "number", "name", "site", "net_area_ha", "row_spacing_m", "in_row_spacing_m", "per_ha", "spots", "plants",
        "species", "effective_species", "target_per_ha",
    )  # fmt: skip
    return Sheet.of(_("Blocks"), columns, [[block[name] for name in names] for block in content["blocks"]])


def mix(content: Content) -> Sheet:
    columns = [
        (_("Block"), "", _("name of the block")),
        (_("Species"), "", _("scientific name")),
        (_("Everyday name"), "", _("a name in the organisation's language")),
        (_("Status here"), "", _("native, introduced or unknown where the block lies")),
        (_("Stock type"), "", _("how the plants arrive")),
        (_("Wave"), "", _("1 goes in first, 2 under it later")),
        (_("Plants"), _("plants"), _("how many are planted")),
        (_("Share"), _("share of the block"), _("of all plants of the block, 0 to 1")),
        (_("Survival"), _("share"), _("expected alive at the check age, 0 to 1")),
        (_("Survival, lower limit"), _("share"), _("lower limit of what one planting may come to")),
        (_("Survival, upper limit"), _("share"), _("upper limit of what one planting may come to")),
        (_("Source of survival"), "", _("where the expectation comes from")),
        (_("Price of one"), _("money"), _("in the currency beside it")),
        (_("Currency"), "", _("ISO 4217 code")),
        (_("Why from elsewhere"), "", _("reason for an introduced species")),
    ]
    rows = [
        [
            block["name"], line["species"], line["name"], line["status"], line["stock_words"], line["wave"],
            line["quantity"], line["share"], line["survival_mean"], line["survival_low"], line["survival_high"],
            line["survival_source"], whole(line["unit_price_minor"], line["currency"]), line["currency"],
            line["introduced_reason"],
        ]
        for block in content["blocks"]
        for line in block["lines"]
    ]  # fmt: skip
    return Sheet.of(_("Mix"), columns, rows)


def windows(content: Content) -> Sheet:
    columns = [
        (_("Block"), "", _("name of the block")),
        (_("Stock type"), "", _("how the plants arrive")),
        (_("From"), _("day"), _("first day of the window")),
        (_("Best week begins"), _("day"), _("first day of the week with the most root growth ahead")),
        (_("Latest day"), _("day"), _("last day with time to root")),
        (_("Why not earlier"), "", _("what closes the days before")),
        (_("Why not later"), "", _("what closes the days after")),
        (_("Source"), "", _("worked out, or stated by the manager")),
    ]
    rows = [
        [
            block["name"], row["stock_words"], day(row["opens_on"]), day(row["best_on"]), day(row["closes_on"]),
            row["opens_because"], row["closes_because"], row["source"],
        ]
        for block in content["blocks"]
        for row in block["windows"]
    ]  # fmt: skip
    return Sheet.of(_("Windows"), columns, rows)


def orders(content: Content) -> Sheet:
    columns = [
        (_("Species"), "", _("scientific name")),
        (_("Stock type"), "", _("how the plants arrive")),
        (_("Wave"), "", _("1 goes in first, 2 under it later")),
        (_("To plant"), _("plants"), _("how many go into the ground, whoever sells them")),
        (_("Nursery"), "", _("where they are to be had; empty: nobody is known")),
        (_("To order"), _("plants"), _("of this nursery, with what is culled and lost on the way")),
        (_("Price of one"), _("money"), _("in the currency beside it")),
        (_("Cost"), _("money"), _("of what is ordered there")),
        (_("Currency"), "", _("ISO 4217 code")),
        (_("Order by"), _("day"), _("latest order date, spare weeks kept")),
    ]
    rows = [
        [
            row["species"], row["stock_words"], row["wave"], row["plants"], part["nursery"], part["quantity"],
            whole(part["unit_price_minor"], part["currency"]), whole(part["cost_minor"], part["currency"]),
            part["currency"], day(part["order_by"]),
        ]
        for row in content["orders"]
        for part in row["parts"]
    ]  # fmt: skip
    return Sheet.of(_("Orders"), columns, rows)


def deliveries(content: Content) -> Sheet:
    columns = [
        (_("Comes on"), _("day"), _("day of the delivery")),
        (_("Nursery"), "", _("who sends it; empty: nobody is known")),
        (_("Stock type"), "", _("how the plants arrive")),
        (_("Plants"), _("plants"), _("how many come")),
        (_("In the ground by"), _("day"), _("last day the stock can wait")),
    ]
    held = content["deliveries"] or {"rows": []}
    rows = [
        [day(row["on"]), row["nursery"], row["stock_words"], row["plants"], day(row["plant_by"])]
        for row in held["rows"]
    ]
    return Sheet.of(_("Deliveries"), columns, rows)


def budget(content: Content) -> Sheet:
    money = content["money"]
    currency = money["currency"] if money else content["project"]["currency"]
    columns = [
        (_("Season"), "", _("empty: no season in particular")),
        (_("What for"), "", _("kind of cost")),
        (_("Planned"), currency, _("money planned")),
        (_("Spent"), currency, _("money spent so far")),
    ]
    rows: list[list[Any]] = []
    if money:
        rows = [
            [row["label"], label, whole(planned, currency), whole(spent, currency)]
            for row in money["seasons"]
            for label, planned, spent in row["kinds"]
        ]
        rows.append(["", _("Set aside for the unforeseen"), whole(money["set_aside"], currency), None])
    return Sheet.of(_("Budget"), columns, rows)


def benefits(content: Content) -> Sheet:
    columns = [
        (_("What"), "", _("what people may gain")),
        (_("Species"), "", _("of which species; empty: of all")),
        (_("From year"), _("years after planting"), _("first year of the gain")),
        (_("Until year"), _("years after planting"), _("last year of the gain")),
        (_("Lowest"), _("unit beside it"), _("lower end of the range")),
        (_("Highest"), _("unit beside it"), _("upper end of the range; never a promise")),
        (_("Unit"), "", _("unit of the range")),
        (_("For"), "", _("each living tree, each hectare or the whole")),
        (_("Source"), "", _("where the range comes from")),
    ]
    names = ("what", "species", "from_year", "until_year", "lowest", "highest", "unit", "per", "source")
    return Sheet.of(_("Benefits"), columns, [[row[name] for name in names] for row in content["benefits"]])


def cautions(content: Content) -> Sheet:
    columns = [
        (_("When"), "", _("stage of the work")),
        (_("What can go wrong"), "", _("usual dangers")),
        (_("Usual care"), "", _("what is usually done about them; approves nothing")),
        (_("Whose word counts"), "", _("who decides")),
    ]
    names = ("stage", "danger", "care", "ask")
    return Sheet.of(_("Cautions"), columns, [[row[name] for name in names] for row in content["cautions"]])
