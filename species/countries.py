"""Names of the places and languages the reference covers; a code without a name here shows as itself."""

from typing import Any

from django.utils.translation import gettext_lazy as _

COUNTRIES: dict[str, Any] = {"KE": _("Kenya"), "PT": _("Portugal")}
REGIONS: dict[str, Any] = {"PT-20": _("Azores"), "PT-30": _("Madeira")}


LANGUAGES: dict[str, Any] = {
    "en": _("English"),
    "es": _("Spanish"),
    "fr": _("French"),
    "kam": _("Kamba"),
    "ki": _("Kikuyu"),
    "luo": _("Luo"),
    "pt": _("Portuguese"),
    "sw": _("Swahili"),
}


def language_name(tag: str) -> str:
    """Return the language's name in the reader's language, else its BCP 47 tag."""
    return str(LANGUAGES.get(tag, tag))


def country_name(code: str) -> str:
    """Return the country's name in the reader's language, else its ISO 3166-1 code."""
    return str(COUNTRIES.get(code, code))


def place_name(country_code: str, region: str = "") -> str:
    """Return "Portugal" or, with an ISO 3166-2 region code, "Portugal, Madeira"."""
    country = country_name(country_code)
    return f"{country}, {REGIONS.get(region, region)}" if region else country
