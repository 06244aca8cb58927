"""Template tags for result pages: codes in words, and the page that tells how a figure was computed."""

from collections.abc import Mapping
from typing import Any

from django import template

from monitoring import cause_words
from monitoring import result_words as words
from monitoring.models import LossCause
from projects.models import StockType

register = template.Library()


@register.filter
def measure_words(code: str) -> str:
    """The name of a measure."""
    return words.said(words.MEASURES, code)


@register.filter
def method_words(code: str) -> str:
    """The name of a method."""
    return words.said(words.METHODS, code)


@register.filter
def apart_words(code: str) -> str:
    """Why a measure stands apart from survival."""
    return words.said(words.APART, code)


@register.filter
def sign_words(code: str) -> str:
    """A sign seen on what was lost."""
    return words.said(words.SIGNS, code)


@register.filter
def loss_cause(row: LossCause) -> str:
    """What killed trees, and about how many of those lost."""
    return cause_words.cause_words(cause_words.told(row))


@register.filter
def causes_words(causes: list[dict[str, Any]]) -> str:
    """Several causes in one line."""
    return cause_words.causes_words(causes)


@register.filter
def outcome_words(code: str) -> str:
    """An outcome as its words alone."""
    return words.said(words.OUTCOMES, code)


@register.filter
def tally_words(tally: Any) -> str:
    """Plots wanted, counted, destroyed and missing, in a sentence."""
    return words.tally_words(tally)


@register.filter
def missing_words(missing: Any) -> str:
    """Why plots have no count."""
    return words.missing_words(missing)


@register.filter
def stock_type_words(code: str) -> str:
    """A stock type in words."""
    return str(StockType(code).label) if code in StockType.values else code


@register.filter
def method_page(code: str) -> str:
    """The name of the page that explains a method."""
    return words.METHOD_PAGES.get(code, "survival")


@register.filter
def need_reason(codes: str) -> str:
    """Why a need has no number, or what its reader must be told."""
    return words.need_reason(codes)


@register.filter
def source_words(code: str) -> str:
    """Where the survival of replacements was taken from."""
    return words.source_words(code)


@register.filter
def seen_words(told: Mapping[str, Any]) -> str:
    """What a foreseen survival rests on."""
    return words.seen_words(told)


@register.filter
def points(share: float | None) -> str:
    """A difference of two shares in percentage points, with its sign."""
    return words.points(share)


@register.filter
def of_kind(address: str, kind: str) -> str:
    """The address of one picture."""
    return address.replace("KIND", kind)


@register.filter
def at(mapping: Mapping[str, Any], key: Any) -> Any:
    """One entry of a mapping by the text of its key, None where there is none."""
    return mapping.get(str(key))
