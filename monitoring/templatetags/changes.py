"""Template tags for change between rounds and survival over time: stored figures in words."""

from django import template

from monitoring import change_words as words
from monitoring.models import Estimate, SurvivalCurve

register = template.Library()


@register.filter
def change_words(row: Estimate) -> str:
    """A change in a sentence with its interval."""
    return words.change_words(row)


@register.filter
def way_words(row: Estimate) -> str:
    """How two rounds were compared."""
    return words.way_words(row)


@register.filter
def note_words(row: Estimate) -> str:
    """What the reader of a change must be told."""
    return words.note_words(row)


@register.filter
def curve_words(row: SurvivalCurve) -> list[str]:
    """What the reader of a curve must be told."""
    return words.curve_words(row)


@register.filter
def age_words(days: int | None) -> str:
    """An age in whole months."""
    return words.age_words(days)
