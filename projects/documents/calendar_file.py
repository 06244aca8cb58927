"""A calendar as RFC 5545 has it: days as dates, hours in UTC, lines folded and text escaped by the library."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from projects.selectors.calendar_entries import Entry

PRODUCT = "-//Tallygrove//What needs deciding//EN"
ASK_AGAIN = timedelta(hours=6)


def calendar_file(name: str, entries: Iterable[Entry], *, base: str, stamp: datetime) -> bytes:
    """Write a calendar; `base` goes before each link, and `stamp` says when entries without a history were made."""
    from icalendar import Calendar, vText  # slow to load, and no other page needs it

    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    for called in ("name", "x-wr-calname"):  # RFC 7986, and what programs read before it
        calendar.add(called, vText(" ".join(_plain(name).split())))
    calendar.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})
    for entry in entries:
        calendar.add_component(_event(entry, base, stamp))
    return bytes(calendar.to_ical())


def _event(entry: Entry, base: str, stamp: datetime) -> "Event":  # noqa: F821
    from icalendar import Event

    event = Event()
    event.add("uid", f"{entry.uid}@tallygrove")
    event.add("dtstamp", entry.changed_at or stamp)
    if entry.changed_at:
        event.add("last-modified", entry.changed_at)
    event.add("sequence", max(0, entry.sequence))
    event.add("dtstart", entry.starts)
    if entry.ends is not None:
        event.add("dtend", entry.ends)
    event.add("summary", _plain(entry.summary))
    link = base + entry.link if entry.link else ""
    description = "\n\n".join(part for part in (_plain(entry.description), link) if part)
    if description:
        event.add("description", description)
    if link:
        event.add("url", link)
    if entry.where:
        event.add("location", _plain(entry.where))
    event.add("status", entry.status)
    if not isinstance(entry.starts, datetime):
        event.add("transp", "TRANSPARENT")  # a day by which something is due does not take the day up
    return event


def _plain(text: str) -> str:
    """Text as a calendar can hold it: control characters have no place in it but the end of a line and the tab."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(sign for sign in text if sign in "\n\t" or (sign.isprintable() or ord(sign) > 0x9F))
