"""What the weekly letter of a member says: their list, their own things first, and what is new since the last one."""

from dataclasses import dataclass
from datetime import date

from projects.access import Actor
from projects.models import Membership, WeeklyLetter
from projects.selectors.home import Group, ToDecide, grouped, to_decide

SHOWN_WEEKS = 8


@dataclass(frozen=True)
class Told:
    """One thing of the letter, and whether the last letter did not have it."""

    item: ToDecide
    is_new: bool


@dataclass(frozen=True)
class Section:
    """Things of one stretch of time: "late", "week", "later" or "undated"."""

    name: str
    things: list[Told]


@dataclass(frozen=True)
class Letter:
    """What a letter says."""

    today: date
    sections: list[Section]

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to say."""
        return not self.sections

    @property
    def told(self) -> list[list[str]]:
        """What was told, by kind and subject, for the next letter to compare with."""
        return [
            [thing.item.row.kind, str(thing.item.row.subject_uid)]
            for section in self.sections
            for thing in section.things
        ]


def letter_for(actor: Actor, today: date) -> Letter:
    """Read the letter of a member as of a day."""
    before = told_before(actor.membership, today) if actor.membership else None
    return Letter(today, [_section(group, before) for group in grouped(to_decide(actor, today))])


def _section(group: Group, before: set[tuple[str, str]] | None) -> Section:
    mine_first = sorted(group.items, key=lambda item: not item.mine)
    return Section(
        group.name,
        [
            Told(item, before is not None and (item.row.kind, str(item.row.subject_uid)) not in before)
            for item in mine_first
        ],
    )


def told_before(membership: Membership, today: date) -> set[tuple[str, str]] | None:
    """What the last letter that left told; None where none ever did, so that nothing is called new."""
    last = (
        WeeklyLetter.objects.filter(membership=membership, week_on__lt=today, sent_at__isnull=False)
        .order_by("-week_on")
        .first()
    )
    return None if last is None else {(kind, subject) for kind, subject in last.told}


def letters_of(membership: Membership) -> list[WeeklyLetter]:
    """The letters of the last weeks, the latest first."""
    return list(WeeklyLetter.objects.filter(membership=membership).order_by("-week_on")[:SHOWN_WEEKS])
