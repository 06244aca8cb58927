"""The demo's orders under way, what was seen when lots changed hands, a lot split in two, and papers."""

from datetime import date, datetime, timedelta
from io import BytesIO

from PIL import Image, ImageDraw

from monitoring.demo import serra_growing as plan
from monitoring.demo.writing.stock import StockBook
from projects import clocks
from projects.models import Delivery, PaperKind, StockLot, StockOrder
from projects.services import lot_checks, lot_splits, orders, papers, receiving

PAGE = (620, 420)  # of a drawn paper, in pixels
INK, SHEET = (38, 48, 77), (251, 248, 238)


def write_growing(book: StockBook, today: date) -> None:
    """Write what is under way between nursery and field."""
    order = write_open_order(book, plan.PARTLY, today)
    write_open_order(book, plan.LATE, today)
    delivery = write_part_delivery(book, order, today)
    write_checks(book)
    write_papers(book, order, delivery, today)


def write_open_order(book: StockBook, row: plan.OpenOrder, today: date) -> StockOrder:
    """Draft, place and confirm an order through the services; its days lie in the past, as no service would have it."""
    actor = book.actor
    lines = [
        orders.Line(
            book.species[slug], stock_type, quantity, book.blocks[plan.COMING_BLOCK], price,
            substitution="listed" if slug == plan.ARBUTUS else "ask",
            substitutes=[(book.species[plan.INSTEAD_OF_ARBUTUS], "container")] if slug == plan.ARBUTUS else [],
        )
        for slug, stock_type, quantity, price in row.lines
    ]  # fmt: skip
    promised = today + timedelta(days=row.promised)
    order = orders.draft_order(
        actor=actor, project=book.projects[plan.PROJECT], nursery=book.nurseries[row.nursery], lines=lines,
        order_by=today + timedelta(days=row.ordered + 14), needed_by=promised + timedelta(days=30),
        reason="Fill the gaps on the burnt slopes.", deliver_to=plan.DELIVER_TO,
    )  # fmt: skip
    orders.place_order(actor=actor, order=order)
    ordered = today + timedelta(days=row.ordered)
    StockOrder.objects.filter(pk=order.pk).update(ordered_on=ordered, reference=row.reference)
    order.refresh_from_db()
    return orders.confirm_order(
        actor=actor, order=order, promised_on=promised, nursery_reference=row.nursery_reference,
        confirmed_on=ordered + timedelta(days=plan.CONFIRMED_AFTER),
    )  # fmt: skip


def write_part_delivery(book: StockBook, order: StockOrder, today: date) -> Delivery:
    """Take in a part of an order, one line of it answered with what may come instead; and split what came."""
    came_on = today + timedelta(days=plan.CAME)
    corks, berries = order.lines.order_by("id")
    arrived = [
        receiving.Arrived(
            plan.CAME_LOT, plan.CAME_CORKS, book.species[plan.CORK], "container", corks, plan.STATED_CORKS,
            provenance="coastal hills", category="selected", certificate="Demo 26/0417", seed_lot="QS-CH-24",
        ),
        receiving.Arrived(
            plan.INSTEAD_LOT, plan.CAME_HOLMS, book.species[plan.INSTEAD_OF_ARBUTUS], "container", berries,
            plan.CAME_HOLMS, provenance="inland hills",
        ),
    ]  # fmt: skip
    received = receiving.receive_delivery(
        actor=book.actor, delivered_on=came_on, arrived=arrived, order=order, note_number=plan.CAME_NOTE,
        carrier="the nursery's own lorry", note="The rest of the cork oaks is promised for the new year.",
    )  # fmt: skip
    book.lots |= {lot.code: lot for lot in received.made}
    book.lots[plan.SPLIT_LOT] = lot_splits.split_lot(
        actor=book.actor, lot=book.lots[plan.CAME_LOT], quantity=plan.SPLIT_OFF, moved_on=came_on,
        code=plan.SPLIT_LOT, note="to the shade house below the ridge",
    )  # fmt: skip
    return received.delivery


def write_checks(book: StockBook) -> None:
    """Look at lots where they changed hands; the moments are those of the organisation's clock."""
    zone = clocks.zone(book.actor.organisation.time_zone)
    for code, day, hour, seen in plan.CHECKS:
        moment = datetime.combine(day, hour, zone)
        lot_checks.add_check(actor=book.actor, lot=book.lots[code], checked_at=moment, **seen)


def write_papers(book: StockBook, order: StockOrder, delivery: Delivery, today: date) -> None:
    """Attach a delivery note, a confirmation, a certificate and a picture, all drawn here."""
    came_on = today + timedelta(days=plan.CAME)
    note = drawn("Delivery note (invented)", plan.CAME_NOTE, f"{plan.CAME_LOT}: {plan.STATED_CORKS}")
    answer = drawn("Confirmation (invented)", plan.PARTLY.nursery_reference, plan.PARTLY.reference)
    passport = drawn("Certificate of a seed lot (invented)", "Demo 26/0417", "QS-CH-24")
    actor = book.actor
    papers.attach(
        actor=actor, subject=delivery, upload=note, kind=PaperKind.DELIVERY_NOTE, number=plan.CAME_NOTE,
        issued_on=came_on,
    )  # fmt: skip
    papers.attach(
        actor=actor, subject=order, upload=answer, kind=PaperKind.ORDER, number=plan.PARTLY.nursery_reference
    )
    lot = StockLot.objects.get(organisation=actor.organisation, code=plan.CAME_LOT)
    papers.attach(
        actor=actor, subject=lot, upload=passport, kind=PaperKind.SEED_CERTIFICATE, number="Demo 26/0417"
    )


def drawn(*lines: str) -> bytes:
    """A sheet with a few lines on it, as a PDF."""
    sheet = Image.new("RGB", PAGE, SHEET)
    pen = ImageDraw.Draw(sheet)
    pen.rectangle((16, 16, PAGE[0] - 16, PAGE[1] - 16), outline=INK, width=2)
    for number, line in enumerate(lines):
        pen.text((40, 48 + 44 * number), line, fill=INK, font_size=24)
    held = BytesIO()
    sheet.save(held, format="PDF", title=lines[0])
    return held.getvalue()
