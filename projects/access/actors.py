"""Who is asking: a member, an enrolled phone, or the service itself."""

from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from projects import models, policy


@dataclass(frozen=True)
class Actor:
    """Who is asking: a member, an enrolled phone, or a command run by the service itself."""

    label: str
    organisation: models.Organisation
    role: str
    person: models.Person | None = None
    membership: models.Membership | None = None
    field_pass: models.FieldPass | None = None
    project_ids: frozenset[int] | None = field(default=None)  # None = every project

    def may(self, verb: str) -> bool:
        """Say whether this actor's role includes a verb."""
        return policy.allows(self.role, verb)

    def require(self, verb: str) -> None:
        """Refuse with 403 unless the role includes the verb."""
        if not self.may(verb):
            raise PermissionDenied(_("Your role in this organisation does not include this."))


def member_actor(membership: models.Membership) -> Actor:
    """Return the actor of a signed-in member, limited to granted projects where the role asks it."""
    grants = frozenset(membership.grants.values_list("project_id", flat=True))
    limited = membership.role in policy.LIMITED_BY_GRANT or (
        membership.role == models.Role.FIELD_LEAD and grants
    )
    return Actor(
        label=membership.role,
        organisation=membership.organisation,
        role=membership.role,
        person=membership.person,
        membership=membership,
        project_ids=grants if limited else None,
    )


def field_pass_actor(field_pass: models.FieldPass, project_ids: frozenset[int]) -> Actor:
    """Return the actor of an enrolled phone: a volunteer in the projects of its rounds."""
    return Actor(
        label="phone",
        organisation=field_pass.organisation,
        role=models.Role.VOLUNTEER,
        person=field_pass.person,
        field_pass=field_pass,
        project_ids=project_ids,
    )


def service_actor(organisation: models.Organisation, label: str = "service") -> Actor:
    """Return the actor of the service's own commands and jobs."""
    return Actor(label=label, organisation=organisation, role=models.Role.MANAGER)


def memberships_of(user: Any) -> QuerySet[models.Membership]:
    """Current memberships of a sign-in, the organisation in the same query."""
    return (
        models.Membership.objects.filter(user=user, ended_at__isnull=True)
        .select_related("organisation", "person")
        .order_by("organisation__name")
    )
