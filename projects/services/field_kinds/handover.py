"""What the log does with records of kind `handover`: a look at a lot where it changes hands becomes a check of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC

from django.utils.translation import gettext as _

from projects import access
from projects.access import Actor
from projects.calc.field_doubts import clock_doubts, handover_doubts
from projects.errors import Refusal
from projects.models import LotCheck, StockLot, Submission
from projects.services import lot_checks
from projects.services.field_kinds.handover_body import HandoverBody, read_handover
from projects.services.field_kinds.outcomes import name_pictures, refusals_rejected, remember_doubts
from projects.services.field_kinds.personal import notes_of
from projects.services.field_kinds.rights import at_work, not_yours
from projects.services.log import Item

SEEN = (
    "point", "counted", "box_temperature_c", "minutes_exposed", "root_condition", "sample_size", "sample_bad",
    "verdict", "because",
)  # fmt: skip


@dataclass(frozen=True)
class Screened:
    """A readable check of a lot its sender may check."""

    worker: Actor
    body: HandoverBody
    lot: StockLot
    note: str


class HandoverHandler:
    """Each check is a row of its own: what was seen stays, so the order of arrival never matters."""

    def screen(self, actor: Actor, item: Item) -> Screened:
        """Refuse what cannot be read or is not theirs; everything odd goes on."""
        body = read_handover(item.schema, item.body)
        worker = at_work(actor, "lot.edit")
        lot = access.visible_lots(worker).filter(uid=body.lot).first()
        if lot is None:
            words = _("This lot is not one you may check. Ask your field lead.")
            raise not_yours("lot_unknown", "/lot", words)
        return Screened(worker, body, lot, notes_of(item.personal)[0])

    def project(self, submission: Submission, parsed: Screened) -> Sequence[str]:
        """Write the check as it was seen; a time that has not come yet is put down as the time of receipt."""
        body, lot = parsed.body, parsed.lot
        check = kept_check(submission, parsed)
        name_pictures(parsed.worker, body.photos, check_of_lot=check)
        doubts = handover_doubts(
            checked_at=body.checked_at, received_at=submission.received_at, checked_on=body.checked_at.date(),
            lifted_on=lot.lifted_on, temperature_c=body.box_temperature_c, is_put_away=lot.archived_at is not None,
        )  # fmt: skip
        doubts += ["no_reason"] if check.because == no_reason() else []
        return remember_doubts(
            parsed.worker, "lot_check", check, [*doubts, *clock_doubts(body.clock_offset_ms)]
        )


def kept_check(submission: Submission, parsed: Screened) -> LotCheck:
    """Keep the check. A reason the desk would ask for is not asked of a phone, which cannot answer any more."""
    body = parsed.body
    seen = {
        **{name: getattr(body, name) for name in SEEN}, "heights_cm": body.heights_cm, "collars_mm": body.collars_mm,
        "checked_at": min(body.checked_at, submission.received_at).astimezone(UTC), "note": parsed.note,
        "submission": submission,
    }  # fmt: skip
    with refusals_rejected({name: f"/{name}" for name in seen}):
        try:
            return lot_checks.keep_check(actor=parsed.worker, lot=parsed.lot, **seen)
        except Refusal as refusal:
            if refusal.field != "because" or body.because.strip():
                raise
            return lot_checks.keep_check(
                actor=parsed.worker, lot=parsed.lot, **seen | {"because": no_reason()}
            )


def no_reason() -> str:
    return _("No reason was given on the phone.")
