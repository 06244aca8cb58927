"""Who may open what of: deliveries, hand-over checks, lots split and merged, giving out."""

from datetime import date
from typing import Any

from projects.models import Delivery, LotCheck
from tests.access.letters import ML

POLICY: dict[tuple[str, str], str] = {
    ("projects:delivery_list", "GET"): ML,
    ("projects:delivery_new", "GET"): ML,
    ("projects:delivery_new", "POST"): ML,
    ("projects:delivery_detail", "GET"): ML,
    ("projects:delivery_edit", "GET"): ML,
    ("projects:delivery_edit", "POST"): ML,
    ("projects:order_receive", "GET"): ML,
    ("projects:order_receive", "POST"): ML,
    ("projects:lot_check", "GET"): ML,
    ("projects:lot_check", "POST"): ML,
    ("projects:lot_check_void", "POST"): ML,
    ("projects:lot_split", "GET"): ML,
    ("projects:lot_split", "POST"): ML,
    ("projects:lot_merge", "GET"): ML,
    ("projects:lot_merge", "POST"): ML,
    ("projects:lot_give_out", "GET"): ML,
    ("projects:lot_give_out", "POST"): ML,
    ("projects:lot_sign_for", "GET"): ML,
}


def more(world: Any, text: str) -> None:
    """Add this part's rows to a world; `text` is found on every page that shows them."""
    world.came = Delivery.objects.create(
        organisation=world.org, order=world.order, nursery=world.lot.nursery, delivered_on=date(2024, 1, 31),
        note_number=f"{text} 2", carrier=text, received_by=world.members["manager"].person,
    )  # fmt: skip
    world.looked = LotCheck.objects.create(
        organisation=world.org, lot=world.lot, verdict="hold", because=text, root_condition="drying"
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {"projects:lot_sign_for": world.lot, "projects:lot_give_out": world.lot}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"delivery": world.came, "lot_check": world.looked}
