"""Members: invited, given a role and projects, and let go. An organisation always keeps a manager."""

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import history, policy
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Membership, Organisation, Person, Project, ProjectGrant, Role, User
from projects.services import editing


@transaction.atomic
def invite(*, actor: Actor, email: str, name: str, role: str, projects: Iterable[Project] = ()) -> Membership:
    """Make a member; whoever never signed in before sets a password through the e-mailed link.

    Send the e-mail after the transaction with `invitations.send`.
    """
    actor.require("people.edit")
    email = _known_email(email)
    _known_role(role)
    user = User.objects.filter(email=email).first() or User.objects.create_user(email)
    person = Person(organisation=actor.organisation, user=user, name=name.strip(), contact=email)
    editing.well_formed(person)
    if Membership.objects.filter(organisation=actor.organisation, user=user, ended_at__isnull=True).exists():
        raise Refusal(
            _("Somebody with this e-mail is a member already; change their role instead."), field="email"
        )
    person.save()
    membership = Membership(user=user, person=person, role=role)
    with editing.refusing_duplicates("email", _("Somebody with this e-mail is a member already.")):
        editing.make(actor, membership, "membership.invited")
    _set_grants(actor, membership, projects)
    return membership


@transaction.atomic
def edit_member(
    *,
    actor: Actor,
    membership: Membership,
    role: str,
    projects: Iterable[Project],
    name: str = "",
    version: str = "",
) -> Membership:
    """Change a member's role, name and the projects they see."""
    actor.require("people.edit")
    editing.ours(actor, membership)
    _known_role(role)
    _line_up(actor.organisation)
    if role != Role.MANAGER:
        _keep_a_manager(membership, "role")
    changed = editing.change(actor, membership, {"role": role}, "membership.edited", version=version)
    if name.strip() and name.strip() != membership.person.name:
        Person.objects.filter(pk=membership.person_id, erased_at__isnull=True).update(name=name.strip()[:200])
        history.record(actor, "membership.edited", changed, reason=_("The name was changed."))
    _set_grants(actor, changed, projects)
    return changed


@transaction.atomic
def end_membership(*, actor: Actor, membership: Membership, reason: str = "") -> Membership:
    """Let a member go: from now on they meet a closed door, and what they did stays theirs."""
    actor.require("people.edit")
    editing.ours(actor, membership)
    _line_up(actor.organisation)
    _keep_a_manager(membership, "")
    ended = Membership.objects.filter(pk=membership.pk, ended_at__isnull=True).update(ended_at=timezone.now())
    if ended:
        history.record(actor, "membership.ended", membership, reason=reason)
    membership.refresh_from_db()
    return membership


def _line_up(organisation: Organisation) -> None:
    """Let changes of members wait for one another, so that two managers cannot both leave at once."""
    Organisation.objects.select_for_update().get(pk=organisation.pk)


def _keep_a_manager(membership: Membership, field: str) -> None:
    current = Membership.objects.get(pk=membership.pk)
    if current.role != Role.MANAGER or not current.is_current:
        return
    others = Membership.objects.filter(
        organisation_id=membership.organisation_id, role=Role.MANAGER, ended_at__isnull=True
    ).exclude(pk=membership.pk)
    if not others.exists():
        raise Refusal(
            _("This is the last manager. Make somebody else a manager first."),
            field=field,
            code="last_manager",
        )


def _set_grants(actor: Actor, membership: Membership, projects: Iterable[Project]) -> None:
    """Make the member's grants those given; each grant given or withdrawn is remembered."""
    wanted = {project.pk: project for project in projects}
    editing.ours(actor, *wanted.values())
    if not wanted and membership.role in policy.LIMITED_BY_GRANT:
        raise Refusal(
            _("Funders and field volunteers see only the projects named here. Choose at least one."),
            field="projects",
        )
    held = {grant.project_id: grant for grant in membership.grants.select_related("project")}
    added = [project for pk, project in wanted.items() if pk not in held]
    withdrawn = [grant for pk, grant in held.items() if pk not in wanted]
    for project in added:
        ProjectGrant.objects.create(organisation=actor.organisation, membership=membership, project=project)
    ProjectGrant.objects.filter(pk__in=[grant.pk for grant in withdrawn]).delete()
    if added or withdrawn:
        before = ", ".join(sorted(str(grant.project) for grant in held.values()))
        after = ", ".join(sorted(str(project) for project in wanted.values()))
        history.record(actor, "membership.edited", membership, change={"projects": [before, after]})


def _known_email(email: str) -> str:
    try:
        validate_email(email.strip())
    except ValidationError as wrong:
        raise Refusal(_("Write a whole e-mail address, such as name@example.org."), field="email") from wrong
    return email.strip().lower()


def _known_role(role: str) -> None:
    if role not in Role.values:
        raise Refusal(_("Choose a role."), field="role")
