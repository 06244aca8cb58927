"""Template filters for drawing form fields."""

from django import forms, template
from django.forms import BoundField

register = template.Library()


@register.filter
def field_kind(field: BoundField) -> str:
    """How a field is laid out: hidden, choices (a fieldset), tick (box before its label) or plain."""
    widget = field.field.widget
    if field.is_hidden:
        return "hidden"
    if widget.use_fieldset:
        return "choices"
    return "tick" if isinstance(widget, forms.CheckboxInput) else "plain"


@register.filter
def drawn(field: BoundField) -> str:
    """The field's control. No placeholder: it vanishes while one types and is taken for an answer."""
    return field.as_widget(attrs={"placeholder": False})


@register.filter
def without_help(field: BoundField) -> BoundField:
    """The same field without its help text, where the page says it better."""
    field.help_text = ""
    return field
