"""Organisations of the demo and their people: roles for names, one printed password."""

from django.contrib.auth.hashers import make_password

from monitoring.demo import PASSWORD
from monitoring.demo.identities import identity
from monitoring.demo.shapes import OrganisationPlan
from projects.access import Actor, member_actor, service_actor
from projects.models import Membership, Organisation, Project, Role, User
from projects.services import people, seasons


def write_organisation(plan: OrganisationPlan) -> Organisation:
    """Make an organisation with its manager; the services take it from there."""
    organisation = Organisation.objects.create(
        uid=identity(plan.slug, "organisation"), slug=plan.slug, name=plan.name, time_zone=plan.time_zone,
        currency=plan.currency, emergency_contact=plan.emergency_contact, is_demo=True,
    )  # fmt: skip
    first = next(person for person in plan.people if person.role == Role.MANAGER)
    people.invite(actor=service_actor(organisation), email=first.email, name=first.name, role=first.role)
    return organisation


def write_seasons(actor: Actor, plan: OrganisationPlan) -> None:
    """Add planting and reporting seasons."""
    for kind, label, starts_on, ends_on in plan.seasons:
        seasons.make_season(actor=actor, kind=kind, label=label, starts_on=starts_on, ends_on=ends_on)


def write_members(actor: Actor, plan: OrganisationPlan) -> None:
    """Invite everybody who signs in, once the projects they are limited to exist, and give them the password."""
    known = {row.name: row for row in Project.objects.filter(organisation=actor.organisation)}
    for person in plan.people:
        if person.email and person.role != Role.MANAGER:
            people.invite(
                actor=actor, email=person.email, name=person.name, role=person.role,
                projects=[known[name] for name in person.projects],
            )  # fmt: skip
    emails = [person.email for person in plan.people if person.email]
    User.objects.filter(email__in=emails).update(password=make_password(PASSWORD))


def member(organisation: Organisation, role: str) -> Actor:
    """Return the first member with a role, as who asks."""
    rows = Membership.objects.filter(organisation=organisation, role=role, ended_at__isnull=True)
    return member_actor(rows.select_related("organisation", "person").order_by("id")[0])
