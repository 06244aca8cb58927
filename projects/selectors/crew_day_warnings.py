"""What speaks against a planting day before it begins: stated, never forbidden. The crew leader decides."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures
from projects.models import (
    Block,
    CheckVerdict,
    CrewDay,
    CrewDayPerson,
    PlantingWindow,
    Season,
    SeasonKind,
    StockType,
)
from projects.selectors.crew_days import LotOnDay
from projects.selectors.readiness import readiness_of
from projects.selectors.season_windows import later
from projects.services.windows import COMES_ROUND
from projects.waiting_words import source_of

LOT, GROUND, PEOPLE = "lot", "ground", "people"


@dataclass(frozen=True)
class Warned:
    """One thing to weigh: of a lot, of the ground and its season, or of the people."""

    about: str
    title: str
    text: str


def warnings_of(day: CrewDay, lots: Sequence[LotOnDay], people: Sequence[CrewDayPerson]) -> list[Warned]:
    """Everything that speaks against a day that is still open, the lots first."""
    found = [each for lot in lots for each in of_lot(day, lot)]
    return [*found, *of_ground(day, lots), *of_people(day, people)]


def of_lot(day: CrewDay, on: LotOnDay) -> Iterator[Warned]:
    """Whether a lot waited too long, failed its last look, or does not hold what is meant."""
    name = _("Lot %(lot)s.") % {"lot": on.row.lot.code}
    if on.row.lot.received_on > day.day:
        came = figures.day(on.row.lot.received_on)
        yield Warned(LOT, name, _("It came on %(day)s, after this planting day.") % {"day": came})
    if on.clock is not None and on.clock.is_over:
        words = ngettext(
            "%(days)s day out of store by then; about %(limit)s is what it can wait (%(source)s).",
            "%(days)s days out of store by then; about %(limit)s is what it can wait (%(source)s).",
            on.clock.days_out,
        )
        source = source_of(on.row.lot.stock_type)
        told = {"days": on.clock.days_out, "limit": on.clock.limit_days, "source": source}
        yield Warned(LOT, name, words % told)
    if on.check is not None and on.check.verdict != CheckVerdict.ACCEPT:
        because = on.check.because or _("no reason written down")
        words = _("Last look: %(verdict)s (%(because)s).")
        yield Warned(LOT, name, words % {"verdict": on.check.get_verdict_display(), "because": because})
    meant = on.row.planned + on.elsewhere
    if meant > on.on_hand:
        words = _("%(meant)s are meant to be planted, %(hand)s are on hand.")
        if on.elsewhere:
            words = _("%(meant)s are meant for this day and other days still open, %(hand)s are on hand.")
        told = {"meant": figures.quantity(meant), "hand": figures.quantity(on.on_hand)}
        yield Warned(LOT, name, words % told)


def of_ground(day: CrewDay, lots: Sequence[LotOnDay]) -> Iterator[Warned]:
    """Whether the block is out of its planting window for a stock type, and whether its site is ready."""
    windows = list(day.block.planting_windows.all())
    names = dict(StockType.choices)
    for stock_type in sorted({on.row.lot.stock_type for on in lots}):
        own = [window for window in windows if window.stock_type == stock_type]
        if own and not any(holds(window, day.day) for window in own):
            spans = "; ".join(_nearest(window, day.day) for window in own)
            title = _("Out of its window.")
            words = _("%(stock)s is planted here %(spans)s.")
            yield Warned(GROUND, title, words % {"stock": _capital(str(names[stock_type])), "spans": spans})
    seasons = Season.objects.filter(
        organisation=day.organisation_id,
        kind=SeasonKind.PLANTING,
        starts_on__lte=day.day,
        ends_on__gte=day.day,
    ).count()
    if seasons == 0:
        text = _("No planting season holds this day. Add one, or choose one when you close the day.")
        yield Warned(GROUND, _("Season."), text)
    ready = readiness_of(day.block.site, day.day)
    if ready.standing:
        stops = ", ".join(row.title for row in ready.standing)
        yield Warned(
            GROUND, _("The site is not ready."), _("What stops a plan: %(stops)s.") % {"stops": stops}
        )
    if ready.unknown:
        words = ngettext(
            "%(n)s reason not to plant is not known yet.",
            "%(n)s reasons not to plant are not known yet.",
            len(ready.unknown),
        )
        yield Warned(GROUND, _("Not looked at."), words % {"n": len(ready.unknown)})


def of_people(day: CrewDay, people: Sequence[CrewDayPerson]) -> Iterator[Warned]:
    """What the crew should not leave without."""
    if not emergency_number(day.block):
        text = _("No emergency number is written down for this site. Ask before you leave and write it down.")
        yield Warned(PEOPLE, _("Emergency."), text)
    if day.lead_id is None:
        yield Warned(PEOPLE, _("Crew leader."), _("Nobody is named to lead and decide on the spot."))
    if not people:
        yield Warned(PEOPLE, _("Crew."), _("Nobody is on the list yet."))
    alone = sum(1 for row in people if row.buddy_id is None)
    if alone:
        words = ngettext(
            "%(n)s person has nobody to look after them. Nobody works alone.",
            "%(n)s people have nobody to look after them. Nobody works alone.",
            alone,
        )
        yield Warned(PEOPLE, _("Buddies."), words % {"n": alone})
    if day.back_by is None or not day.buddies.strip():
        text = _("Write down when the crew is back, and who is told and raises the alarm if it is not.")
        yield Warned(PEOPLE, _("Back by."), text)


def emergency_number(block: Block) -> str:
    """The site's emergency number, else the organisation's; empty where neither is written down."""
    return block.site.emergency_contact.strip() or block.organisation.emergency_contact.strip()


def holds(window: PlantingWindow, day: date) -> bool:
    """Whether a window holds a day; one worked out from the climate does so in any year."""
    return any(opens <= day <= closes for opens, closes in _spans(window, day))


def _spans(window: PlantingWindow, day: date) -> list[tuple[date, date]]:
    """The window's days in the years around a day where it comes round, else its own."""
    years = range(day.year - window.closes_on.year - 1, day.year - window.opens_on.year + 2)
    shifts = years if window.source in COMES_ROUND else [0]
    return [(later(window.opens_on, n), later(window.closes_on, n)) for n in shifts]


def _nearest(window: PlantingWindow, day: date) -> str:
    """The days of a window nearest to a day it does not hold."""
    return figures.span(*min(_spans(window, day), key=lambda span: max(span[0] - day, day - span[1])))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
