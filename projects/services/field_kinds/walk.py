"""What the log does with records of kind `walk`: signs seen in a block between rounds. They enter no estimate."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from projects import access, clocks
from projects.access import Actor
from projects.calc.field_doubts import clock_doubts, walk_doubts
from projects.models import Block, Submission
from projects.services import walks
from projects.services.field_kinds.outcomes import refusals_rejected, remember_doubts
from projects.services.field_kinds.personal import notes_of
from projects.services.field_kinds.rights import at_work, not_yours
from projects.services.field_kinds.walk_body import WalkBody, read_walk
from projects.services.log import Item

MOST_NOTE = 300


@dataclass(frozen=True)
class Screened:
    """A readable walk through a block its sender may walk."""

    worker: Actor
    body: WalkBody
    block: Block
    note: str
    sign_notes: list[str]


class WalkHandler:
    """Each walk is a row of its own, so the order of arrival never matters."""

    def screen(self, actor: Actor, item: Item) -> Screened:
        """Refuse what cannot be read or is not theirs; everything odd goes on."""
        body = read_walk(item.schema, item.body)
        worker = at_work(actor, "walk.edit")
        block = access.visible_blocks(worker).select_related("site", "project").filter(uid=body.block).first()
        if block is None:
            words = _("This block is not one you may walk through. Ask your field lead.")
            raise not_yours("block_unknown", "/block", words)
        return Screened(worker, body, block, *notes_of(item.personal))

    def project(self, submission: Submission, parsed: Screened) -> Sequence[str]:
        """Write the walk with its signs; a day that has not come yet is put down as the day of receipt."""
        body, block, today = parsed.body, parsed.block, clocks.today_at(parsed.block.site)
        with refusals_rejected({"walked_on": "/walked_on", "sightings": "/signs"}):
            walk = walks.record_walk(
                actor=parsed.worker, block=block, walked_on=min(body.walked_on, today), note=parsed.note,
                sightings=seen_signs(parsed), submission=submission,
            )  # fmt: skip
        doubts = walk_doubts(
            walked_on=body.walked_on, received_on=today, is_put_away=block.archived_at is not None
        )
        return remember_doubts(parsed.worker, "walk", walk, [*doubts, *clock_doubts(body.clock_offset_ms)])


def seen_signs(parsed: Screened) -> list[walks.SeenSign]:
    """Return the signs of a walk, each with the note that belongs to it."""
    notes = [*parsed.sign_notes, *[""] * len(parsed.body.signs)]
    return [
        walks.SeenSign(
            sign=row.sign, urgency=row.urgency, where=row.where, latitude=row.latitude, longitude=row.longitude,
            note=note[:MOST_NOTE], photos=row.photos,
        )
        for row, note in zip(parsed.body.signs, notes, strict=False)
    ]  # fmt: skip
