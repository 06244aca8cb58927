"""The sheet of an order: pages for the nursery, and the same lines as a table."""

import csv
import io
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, override

from projects import figures
from projects.calc.money import major_text
from projects.documents import items as put
from projects.documents.items import Item
from projects.models import OrderLine, OrderStatus, StockType, SubstitutionRule
from projects.selectors.order_progress import LineStanding, OrderStanding
from species.calc.cells import harmless

COLUMNS = (
    "order", "status", "project", "nursery", "nursery_number", "ordered_on", "needed_by", "promised_on", "line",
    "species", "stock_type", "age_code", "provenance", "for_block", "asked", "confirmed", "arrived", "still_to_come",
    "over", "days_late", "unit_price", "currency", "if_not_to_be_had", "instead", "note",
)  # fmt: skip


def order_pages(standing: OrderStanding) -> dict[str, Any]:
    """The pages of the sheet in the organisation's language."""
    organisation = standing.order.organisation
    with override(organisation.language):
        language, _dash, region = organisation.language.partition("-")
        order, is_draft = standing.order, standing.order.status == OrderStatus.DRAFT
        title = _("Order of plants: %(name)s") % {"name": order.reference or order.project.name}
        return {
            "title": title, "author": organisation.name, "lang": language, "region": region or None,
            "paper": "us-letter" if organisation.units == "us" else "a4", "running": title,
            "state": _state(standing), "is_draft": is_draft, "footer": organisation.name,
            "page_words": [_("page"), _("of")],
            "items": [
                *_first_words(standing), *_lines(standing), *_papers(),
                *([] if order.status in (OrderStatus.CLOSED, OrderStatus.CANCELLED) else _answer()),
            ],
        }  # fmt: skip


def _state(standing: OrderStanding) -> str:
    order = standing.order
    if order.status == OrderStatus.DRAFT:
        return _("draft, not ordered yet")
    if order.ordered_on is None:
        return str(order.get_status_display())
    words = {"status": order.get_status_display(), "day": figures.day(order.ordered_on)}
    return _("%(status)s; placed on %(day)s") % words


def _first_words(standing: OrderStanding) -> list[Item]:
    order = standing.order
    deposit = "" if order.deposit_minor is None else figures.money(order.deposit_minor, order.currency)
    facts = put.facts(
        [
            (_("From"), order.organisation.name),
            (_("To"), order.nursery.name if order.nursery else _("not chosen yet")),
            (_("Your number"), order.nursery_reference),
            (_("Our reference"), order.reference),
            (_("Project"), order.project.name),
            (_("Needed by"), figures.day(order.needed_by) if order.needed_by else ""),
            (_("Promised for"), figures.day(order.promised_on) if order.promised_on else ""),
            (_("Deliver to"), order.deliver_to),
            (_("Deposit"), deposit),
        ]
    )
    terms = [put.heading(_("Terms"), 1), put.words(order.terms)] if order.terms else []
    return [facts, *terms]


def _lines(standing: OrderStanding) -> list[Item]:
    columns = [
        put.column(_("Nr"), 0, right=True), put.column(_("Species"), 5), put.column(_("Stock type, age"), 4),
        put.column(_("Provenance"), 4), put.column(_("For block"), 3), put.column(_("How many"), 2, right=True),
        put.column(_("Price of one"), 3, right=True), put.column(_("Cost"), 3, right=True),
    ]  # fmt: skip
    rows = [_row(number, row) for number, row in enumerate(standing.lines, start=1)]
    costs = ", ".join(figures.money(minor, currency) for currency, minor in standing.costs)
    total = [
        "", _("All"), "", "", "", figures.quantity(standing.asked), "", costs or figures.NO_FIGURE,
    ]  # fmt: skip
    found = [put.heading(_("What is ordered"), 1), put.table(columns, rows, total=total)]
    unpriced = sum(row.cost_minor is None for row in standing.lines)
    if unpriced and costs:
        words = ngettext(
            "%(n)s line has no price yet and is not in the sum.",
            "%(n)s lines have no price yet and are not in the sum.",
            unpriced,
        )
        found.append(put.words(words % {"n": unpriced}, soft=True))
    numbered = list(enumerate(standing.lines, start=1))
    instead = [_of_line(number, rule_words(row.line)) for number, row in numbered]
    notes = [_of_line(number, row.line.note) for number, row in numbered if row.line.note]
    found += [put.heading(_("If a line cannot be sent as asked"), 2), put.points(instead)]
    if notes:
        found += [put.heading(_("Notes to the lines")), put.points(notes)]
    return found


def _of_line(number: int, words: str) -> str:
    return _("Line %(number)s: %(words)s") % {"number": number, "words": words}


def _row(number: int, row: LineStanding) -> list[str]:
    line = row.line
    stock = [str(line.get_stock_type_display()), line.age_code]
    return [
        str(number), line.species.scientific_name, ", ".join(word for word in stock if word), line.provenance,
        line.block.name if line.block else "", figures.quantity(line.quantity),
        figures.money(line.unit_price_minor, line.currency), figures.money(row.cost_minor, line.currency),
    ]  # fmt: skip


def rule_words(line: OrderLine) -> str:
    """What may come instead of a line, as a nursery is told."""
    if line.substitution == SubstitutionRule.NONE:
        return _("Send nothing else.")
    if line.substitution == SubstitutionRule.SAME_SPECIES:
        return _(
            "The same species in another size, age or stock type will do; another provenance only after asking us."
        )
    if line.substitution == SubstitutionRule.LISTED:
        return _("Only, in this order: %(list)s. Another provenance only after asking us.") % {
            "list": instead_words(line)
        }
    return _("Ask us before sending anything else.")


def instead_words(line: OrderLine) -> str:
    """The list of what may come instead, the wanted first."""
    rows = sorted(line.substitutes.all(), key=lambda row: (row.rank, row.pk))
    words = [
        _("%(species)s, %(stock)s")
        % {"species": row.species.scientific_name, "stock": StockType(row.stock_type).label}
        if row.stock_type
        else row.species.scientific_name
        for row in rows
    ]
    return "; ".join(words)


def _papers() -> list[Item]:
    return [
        put.box(
            _("Papers to come with the plants"),
            _(
                "With every lot, please: a label with species, provenance, seed lot, stock type and age, number of"
                " plants and the day they were lifted; the number of the seed source's certificate; the plant passport"
                " or health certificate where the law asks for one; a delivery note."
            ),
            _(
                "Common practice; what must come is said by the rules in force where the plants are grown and planted."
            ),
        )
    ]


def _answer() -> list[Item]:
    labels = [
        _("Confirmed numbers, line by line:"), _("Day of delivery:"), _("Your number of this order:"),
        _("Date and signature:"),
    ]  # fmt: skip
    return [put.heading(_("Your answer"), 1), put.blank_facts(labels)]


def order_csv(standing: OrderStanding) -> str:
    """The lines as CSV with a heading row; no cell is a formula to a spreadsheet. Days are ISO 8601."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for number, row in enumerate(standing.lines, start=1):
        writer.writerow([harmless(cell) for cell in _cells(number, row, standing)])
    return held.getvalue()


def _cells(number: int, row: LineStanding, standing: OrderStanding) -> list[str]:
    order, line, found = standing.order, row.line, row.progress
    digits = figures.MINOR_DIGITS.get(line.currency, 2)
    days = [day.isoformat() if day else "" for day in (order.ordered_on, order.needed_by, order.promised_on)]
    return [
        order.reference, order.status, order.project.name, order.nursery.name if order.nursery else "",
        order.nursery_reference, *days, str(number), line.species.scientific_name, line.stock_type, line.age_code,
        line.provenance, line.block.name if line.block else "", str(line.quantity),
        "" if line.confirmed_quantity is None else str(line.confirmed_quantity), str(found.arrived),
        str(found.to_come), str(found.over), str(found.late_days),
        "" if line.unit_price_minor is None else major_text(line.unit_price_minor, digits), line.currency,
        line.substitution, instead_words(line), line.note,
    ]  # fmt: skip
