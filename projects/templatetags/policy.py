"""Template filter that asks the actor, so that templates never compare roles."""

from django import template

from projects.access import Actor

register = template.Library()


@register.filter
def may(actor: Actor | None, verb: str) -> bool:
    """Say whether the actor's role includes a verb: `{% if actor|may:"site.edit" %}`."""
    return actor is not None and actor.may(verb)
