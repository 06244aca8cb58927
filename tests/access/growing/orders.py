"""Who may open what of: stock orders, their lines, the sheet that is sent, papers."""

from datetime import date
from typing import Any

from projects.models import Delivery, LotCheck, OrderLine, Paper, Sighting, StoredFile, Walk
from tests.access.letters import ML, MLV, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:order_list", "GET"): ML,
    ("projects:order_new", "GET"): M,
    ("projects:order_new", "POST"): M,
    ("projects:order_edit", "GET"): M,
    ("projects:order_edit", "POST"): M,
    ("projects:order_confirm", "GET"): M,
    ("projects:order_confirm", "POST"): M,
    ("projects:order_close", "GET"): M,
    ("projects:order_close", "POST"): M,
    ("projects:order_reopen", "POST"): M,
    ("projects:order_pdf", "GET"): ML,
    ("projects:order_csv", "GET"): ML,
    ("projects:order_line_new", "GET"): M,
    ("projects:order_line_new", "POST"): M,
    ("projects:order_line_edit", "GET"): M,
    ("projects:order_line_edit", "POST"): M,
    ("projects:order_line_remove", "POST"): M,
    ("projects:order_line_agree", "POST"): M,
    ("projects:order_paper_new", "GET"): M,
    ("projects:order_paper_new", "POST"): M,
    ("projects:delivery_paper_new", "GET"): ML,
    ("projects:delivery_paper_new", "POST"): ML,
    ("projects:lot_paper_new", "GET"): ML,
    ("projects:lot_paper_new", "POST"): ML,
    ("projects:lot_check_paper_new", "GET"): ML,
    ("projects:lot_check_paper_new", "POST"): ML,
    ("projects:sighting_paper_new", "GET"): ML,
    ("projects:sighting_paper_new", "POST"): ML,
    ("projects:care_paper_new", "GET"): MLV,
    ("projects:care_paper_new", "POST"): MLV,
    ("projects:paper_file", "GET"): ML,
    ("projects:paper_void", "POST"): M,
}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world; `text` is found on every page that shows them."""
    for quantity in (40, 60):
        world.order_line = OrderLine.objects.create(
            organisation=world.org, order=world.order, block=world.block, species=world.lot.species,
            stock_type="bare_root", quantity=quantity, note=text,
        )  # fmt: skip
    world.papered = {
        "delivery": Delivery.objects.create(
            organisation=world.org, order=world.order, nursery=world.lot.nursery, delivered_on=date(2024, 2, 1),
            note_number=text,
        ),
        "check": LotCheck.objects.create(organisation=world.org, lot=world.lot, verdict="accept", note=text),
        "sighting": Sighting.objects.create(
            organisation=world.org, sign="drought", where=text,
            walk=Walk.objects.create(organisation=world.org, block=world.block, walked_on=date(2024, 6, 1)),
        ),
    }  # fmt: skip
    StoredFile.objects.create(
        organisation=world.org, sha256="0" * 64, media_type="application/pdf", size_bytes=5, content=b"%PDF-"
    )
    world.paper = Paper.objects.create(
        organisation=world.org, order=world.order, kind="order", title=text, sha256="0" * 64
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {
        "projects:order_line_new": world.order,
        "projects:order_paper_new": world.order,
        "projects:delivery_paper_new": world.papered["delivery"],
        "projects:lot_paper_new": world.lot,
        "projects:lot_check_paper_new": world.papered["check"],
        "projects:sighting_paper_new": world.papered["sighting"],
        "projects:care_paper_new": world.care,
    }


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"paper": world.paper, "order_line": own_line(world)}


def own_line(world: Any) -> OrderLine:
    """A line of the order; the one made last until a row before took it out."""
    return OrderLine.objects.filter(order=world.order).order_by("-id")[0]
