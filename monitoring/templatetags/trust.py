"""Template tags of the trust page: its codes in words."""

from typing import Any

from django import template

from monitoring import trust_words as words

register = template.Library()

register.filter("part_words", words.part_words)
register.filter("turn_words", words.turn_words)
register.filter("difference_words", words.difference_words)
register.filter("leaning_words", words.leaning_words)


@register.filter
def with_kind(address: str, kind: Any) -> str:
    """The address of a list narrowed to one kind."""
    return f"{address}&kind={kind}"
