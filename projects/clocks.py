"""What day it is, where it matters: reminders follow the organisation's clock, field records the site's."""

from datetime import date
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from django.utils import timezone

from projects.models import Organisation, Site


def zone(name: str) -> ZoneInfo:
    """Return a time zone; a name this machine no longer knows falls back to UTC rather than to an error."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        return ZoneInfo("UTC")


def today_of(organisation: Organisation) -> date:
    """Return the organisation's day, which reminders and windows are counted from."""
    return timezone.now().astimezone(zone(organisation.time_zone)).date()


def today_at(site: Site) -> date:
    """Return the day at a site, which planting and counting happen on."""
    return timezone.now().astimezone(zone(site.time_zone)).date()


def zone_names() -> list[str]:
    """Return the names a person may choose: places, not the abbreviations kept for old files."""
    places = (name for name in available_timezones() if "/" in name and not name.startswith("Etc/"))
    return [*sorted(places), "UTC"]
