"""Who may record hand-overs, walks and care: a phone in the projects its pass names, a member as their role says.

A phone asks as a volunteer everywhere else. For these records it works as a field lead of the named projects
would, and of no other: whoever issued the pass said so by name.
"""

from dataclasses import replace

from projects.access import Actor
from projects.models import FieldPassProject, Role
from projects.services.log import Fault, Rejected

NOWHERE: frozenset[int] = frozenset()


def at_work(actor: Actor, verb: str) -> Actor:
    """Return who writes a record of field work: sees only what it may record of."""
    if actor.field_pass is not None:
        return replace(actor, role=Role.FIELD_LEAD, project_ids=work_projects(actor))
    return actor if actor.may(verb) else replace(actor, project_ids=NOWHERE)


def work_projects(actor: Actor) -> frozenset[int]:
    """Return the projects a phone's pass names for field work."""
    rows = FieldPassProject.objects.filter(field_pass=actor.field_pass)
    return frozenset(rows.values_list("project_id", flat=True))


def not_yours(code: str, pointer: str, detail: str) -> Rejected:
    """Refuse what is not there and what is not theirs with the same words."""
    return Rejected(code, [Fault(pointer, detail)])
