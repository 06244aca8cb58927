"""Causes of loss in words, from rows as they stand and from those a summary has frozen."""

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext as _

from monitoring.models import Cause, LossCause
from projects import figures


def told(row: LossCause) -> dict[str, Any]:
    """A cause as plain values."""
    return {
        "cause": row.cause,
        "share": None if row.share is None else float(row.share),
        "species": row.species.scientific_name if row.species else "",
    }


def cause_words(cause: dict[str, Any]) -> str:
    """One cause: "Quercus robur: frost (about 60 % of the losses)"."""
    code = cause["cause"]
    words = str(Cause(code).label) if code in Cause.values else code.replace("_", " ")
    if cause["share"]:
        share = figures.percent(cause["share"])
        words = _("%(cause)s (about %(share)s of the losses)") % {"cause": words, "share": share}
    if cause["species"]:
        words = _("%(species)s: %(cause)s") % {"species": cause["species"], "cause": words}
    return words


def causes_words(causes: Iterable[dict[str, Any]]) -> str:
    """Several causes in one line; empty where none is assigned."""
    return "; ".join(cause_words(cause) for cause in causes)
