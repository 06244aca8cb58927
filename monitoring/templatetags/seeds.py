"""Template filters for what was sown."""

from django import template

from monitoring import seed_words
from monitoring.models import CountLine, Visit
from projects.models import Unit

register = template.Library()


@register.filter
def line_words(line: CountLine) -> str:
    """What a line found of what was sown, in words; nothing for planted trees."""
    return seed_words.line_words(line)


@register.filter
def holds_seed(visit: Visit) -> bool:
    """Say whether any line of a visit is about seed; reads the lines at hand."""
    return any(line.unit != Unit.TREE for line in visit.lines.all())


@register.filter
def said_of(words: dict[str, str], measure: str) -> str:
    """The words about one measure."""
    return words.get(measure, "") if words else ""
