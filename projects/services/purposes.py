"""What a project is for: weights that are added, changed and taken away together."""

from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext as _

from projects import assessment_steps, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Project, ProjectPurpose
from projects.selectors.purposes import purpose_weights
from projects.services import editing
from species.traits import USES

LEAST, MOST = 1, 10


@transaction.atomic
def weigh_purposes(
    *, actor: Actor, project: Project, weights: Mapping[str, int | None], version: str = ""
) -> dict[str, int]:
    """Make the purposes of a project exactly `weights`; a use without a weight is not a purpose of it."""
    actor.require("project.edit")
    editing.ours(actor, project)
    wanted = _checked(weights)
    locked = editing.held(project)
    stored = purpose_weights(locked)
    if version and version != version_of(stored):
        raise editing.ChangedMeanwhile(locked, {use: stored.get(use) for use in weights}, version_of(stored))
    if wanted == stored:
        return stored
    ProjectPurpose.objects.filter(project=locked).exclude(use__in=list(wanted)).delete()
    for use, weight in wanted.items():
        ProjectPurpose.objects.update_or_create(
            organisation=actor.organisation, project=locked, use=use, defaults={"weight": weight}
        )
    uses = [use for use in USES if stored.get(use) != wanted.get(use)]
    change = {use: [stored.get(use), wanted.get(use)] for use in uses}
    history.record(actor, "project.purposes_weighed", locked, change=change)
    return wanted


def version_of(weights: Mapping[str, int]) -> str:
    """A token of what stood there when a form was opened."""
    return assessment_steps.version_of(dict(sorted(weights.items())))


def _checked(weights: Mapping[str, int | None]) -> dict[str, int]:
    for use, weight in weights.items():
        if use not in USES:
            raise Refusal(_("Choose one of the purposes listed."), field=use, code="not_a_purpose")
        if weight is not None and not LEAST <= weight <= MOST:
            raise Refusal(
                _("Write a whole number from %(least)s to %(most)s, or leave it empty.")
                % {"least": LEAST, "most": MOST},
                field=use,
            )
    return {use: weight for use, weight in weights.items() if weight is not None}
