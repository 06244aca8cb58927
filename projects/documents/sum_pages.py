"""Sums of a plan: orders, days of work, money, living trees, what people gain. What is not decided is said to be."""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures
from projects.documents import items as put
from projects.documents.items import Item

Content = dict[str, Any]


def _day(text: str | None) -> str:
    return figures.day(date.fromisoformat(text)) if text else ""


def order_items(content: Content) -> list[Item]:
    """What to order, by when, and when it comes."""
    found = [put.new_page(), put.heading(_("What to order, and by when"), 1)]
    if not content["orders"]:
        return [*found, put.words(_("Orders are not yet decided."))]
    columns = [
        put.column(_("Species"), 5), put.column(_("Stock type"), 3), put.column(_("To plant"), 2, right=True),
        put.column(_("To order"), 2, right=True), put.column(_("Nursery"), 4),
        put.column(_("Cost"), 3, right=True), put.column(_("Order by"), 3),
    ]  # fmt: skip
    rows = [cells for row in content["orders"] for cells in _order_rows(row)]
    total = [
        _("All"), "", figures.quantity(sum(row["plants"] for row in content["orders"])),
        figures.quantity(sum(part["quantity"] for row in content["orders"] for part in row["parts"])),
        "", _order_cost(content["orders"]), "",
    ]  # fmt: skip
    plan = content["plan"]
    rests = _(
        "To order is what is planted and %(cull)s culled on arrival and %(loss)s lost in handling, and never fewer "
        "than the nursery sells. Order dates keep %(weeks)s spare weeks."
    ) % {
        "cull": figures.percent(plan["cull_share"]), "loss": figures.percent(plan["handling_loss_share"]),
        "weeks": plan["slack_weeks"],
    }  # fmt: skip
    return [*found, put.table(columns, rows, total=total), put.words(rests, soft=True), *_deliveries(content)]


def _order_rows(row: dict[str, Any]) -> list[list[str]]:
    """One row for each seller; species and number stand in the first."""
    stock = (
        row["stock_words"]
        if row["wave"] == 1
        else _("%(stock)s, second wave") % {"stock": row["stock_words"]}
    )
    first = [row["species"], stock, figures.quantity(row["plants"])]
    return [
        [
            *(first if number == 0 else ["", "", ""]), figures.quantity(part["quantity"]),
            part["nursery"] or _("nobody is known to sell it"),
            figures.money(part["cost_minor"], part["currency"]), _order_day(part),
        ]
        for number, part in enumerate(row["parts"])
    ]  # fmt: skip


def _order_day(part: dict[str, Any]) -> str:
    if part["order_by"] is None:
        return _("not yet decided") if part["nursery"] else figures.NO_FIGURE
    return (
        _("%(day)s: has passed") % {"day": _day(part["order_by"])}
        if part["has_passed"]
        else _day(part["order_by"])
    )


def _order_cost(orders: list[dict[str, Any]]) -> str:
    """Money of everything with a price, each currency by itself."""
    costs: dict[str, int] = {}
    for row in orders:
        for part in row["parts"]:
            if part["cost_minor"] is not None:
                costs[part["currency"]] = costs.get(part["currency"], 0) + part["cost_minor"]
    return ", ".join(figures.money(minor, currency) for currency, minor in sorted(costs.items()))


def _deliveries(content: Content) -> list[Item]:
    found, deliveries = [put.heading(_("Deliveries"), 2)], content["deliveries"]
    if not deliveries or not deliveries["rows"]:
        return [*found, put.words(_("Deliveries are not yet decided."))]
    columns = [
        put.column(_("Comes on"), 3), put.column(_("From"), 4), put.column(_("Stock type"), 3),
        put.column(_("Plants"), 2, right=True), put.column(_("In the ground by"), 3),
    ]  # fmt: skip
    rows = [
        [
            _day(row["on"]), row["nursery"] or figures.NO_FIGURE, row["stock_words"], figures.quantity(row["plants"]),
            _day(row["plant_by"]),
        ]
        for row in deliveries["rows"]
    ]  # fmt: skip
    rests = _(
        "No delivery is larger than the crew plants while the stock can wait, %(days)s planting days a week. Plants "
        "for the ground; culls and handling losses come on top. Everything is taken to be ordered in time."
    )
    found += [put.table(columns, rows), put.words(rests % {"days": deliveries["days_a_week"]}, soft=True)]
    if deliveries["left_over"]:
        words = _("%(n)s plants do not fit into their days with this crew.")
        found.append(put.words(words % {"n": figures.quantity(deliveries["left_over"])}, strong=True))
        if deliveries["people"]:
            found.append(
                put.words(_("%(n)s people would do it.") % {"n": figures.quantity(deliveries["people"])})
            )
    if deliveries["without_days"]:
        words = _("%(n)s plants have neither a window nor a season, so no day is known for them.")
        found.append(put.words(words % {"n": figures.quantity(deliveries["without_days"])}))
    return found


def crew_items(content: Content) -> list[Item]:
    """Days of work, and when not to plant."""
    found, crew, plan = [put.heading(_("For the crew"), 1)], content["crew"], content["plan"]
    if crew:
        columns = [
            put.column(_("Block"), 5), put.column(_("Plants"), 2, right=True),
            put.column(_("Person-days"), 2, right=True), put.column(_("Days of this crew"), 3, right=True),
        ]  # fmt: skip
        rows = [
            [f"{row['number']} {row['block']}", figures.quantity(row["plants"]),
             figures.quantity(row["person_days"], 1), figures.quantity(row["days"])]
            for row in crew["rows"]
        ]  # fmt: skip
        total = [_("All, blocks one after another"), figures.quantity(crew["plants"]),
                 figures.quantity(crew["person_days"], 1), figures.quantity(crew["days"])]  # fmt: skip
        rests = _("%(people)s people at %(rate)s trees each a day; days lost to weather are not in it.") % {
            "people": figures.quantity(plan["crew_people"]), "rate": figures.quantity(plan["trees_per_person_day"])
        }  # fmt: skip
        found += [put.table(columns, rows, total=total), put.words(rests, soft=True)]
    found.append(put.heading(_("When not to plant"), 2))
    if not content["day_rules"]:
        return [*found, put.words(_("Rules for the day are not yet decided."))]
    columns = [put.column(_("When"), 6), put.column(_("Then"), 3), put.column(_("Source"), 5)]
    rows = [
        [row["when"] + (f" ({row['beside']})" if row["beside"] else ""), row["then"], row["source"]]
        for row in content["day_rules"]
    ]
    return [
        *found,
        put.table(columns, rows),
        put.words(_("The crew leader decides on the spot."), strong=True),
    ]


def money_items(content: Content) -> list[Item]:
    """Planned money by season, with what is set aside."""
    found, money = [put.heading(_("What it costs"), 1)], content["money"]
    if not money:
        return [*found, put.words(_("The budget is not yet decided."))]
    currency = money["currency"]
    columns = [
        put.column(_("Season"), 4), put.column(_("What for"), 4), put.column(_("Planned"), 3, right=True),
        put.column(_("Spent"), 3, right=True),
    ]  # fmt: skip
    rows = [
        [row["label"] or _("no season in particular"), label, figures.money(planned, currency),
         figures.money(spent, currency)]
        for row in money["seasons"]
        for label, planned, spent in row["kinds"]
    ]  # fmt: skip
    rows.append(
        [_("Set aside for the unforeseen"), figures.percent(money["share"]),
         figures.money(money["set_aside"], currency), ""]
    )  # fmt: skip
    total = [
        _("All"),
        "",
        figures.money(money["with_set_aside"], currency),
        figures.money(money["spent"], currency),
    ]
    found.append(put.table(columns, rows, total=total))
    if money["budget"] is not None:
        over = money["with_set_aside"] - money["budget"]
        words = _("The budget is %(budget)s.") % {"budget": figures.money(money["budget"], currency)}
        if over > 0:
            words += " " + _("%(over)s more is planned than it holds.") % {
                "over": figures.money(over, currency)
            }
        found.append(put.words(words))
    if number := money["left_out"]:
        words = ngettext(
            "%(n)s line in another currency has no rate and is left out.",
            "%(n)s lines in another currency have no rate and are left out.", number,
        )  # fmt: skip
        found.append(put.words(words % {"n": number}))
    if number := money["converted"]:
        words = ngettext(
            "%(n)s line is converted at the rate stated for it.",
            "%(n)s lines are converted at the rates stated for them.", number,
        )  # fmt: skip
        found.append(put.words(words % {"n": number}, soft=True))
    return found


def living_items(content: Content) -> list[Item]:
    """Living trees expected at the check age."""
    found, living = [put.heading(_("How many trees may live"), 1)], content["living"]
    if not living:
        return [
            *found,
            put.words(_("Not yet decided: there is no mix, or nobody has said how much of it survives.")),
        ]
    mean, low, high = (figures.quantity(living[name]) for name in ("mean", "low", "high"))
    said = _("About %(mean)s living trees at the check age, between %(low)s and %(high)s.")
    rests = _(
        "95 % limits: survival of one species and stock type is one unknown share for all its plants, and different "
        "kinds do well or badly by themselves; a year that is bad for all of them at once is not in it. Counting plots "
        "after planting tells what really lives."
    )
    return [*found, put.words(said % {"mean": mean, "low": low, "high": high}), put.words(rests, soft=True)]


def gain_items(content: Content) -> list[Item]:
    """What people may gain, as ranges; carbon only where it was asked for."""
    found = [put.heading(_("What people may gain"), 1)]
    if not content["benefits"]:
        found.append(put.words(_("Not yet decided: no expected gain is written down.")))
    else:
        columns = [
            put.column(_("What"), 4), put.column(_("Of"), 4), put.column(_("Years after planting"), 2),
            put.column(_("From … to"), 4), put.column(_("For"), 3), put.column(_("Source"), 4),
        ]  # fmt: skip
        found.append(put.table(columns, [_gain(row) for row in content["benefits"]]))
        words = _(
            "Expectations, not promises: yields and prices vary, and what was agreed in writing goes before."
        )
        found.append(put.words(words, strong=True))
    for row in content["carbon"] or []:
        found += [put.heading(row["title"], 2), *(put.words(text) for text in row["words"])]
    return found


def _gain(row: dict[str, Any]) -> list[str]:
    amount = _("%(low)s to %(high)s %(unit)s") % {
        "low": figures.quantity(row["lowest"], _places(row["lowest"])),
        "high": figures.quantity(row["highest"], _places(row["highest"])), "unit": row["unit"],
    }  # fmt: skip
    years = _("%(first)s to %(last)s") % {"first": row["from_year"], "last": row["until_year"]}
    return [row["what"], row["species"] or _("all"), years, amount, row["per"], row["source"]]


def _places(number: float) -> int:
    return 0 if float(number).is_integer() else 1
