"""What a loaded demo must show: who may sign in, which figures, which page tells which part of the story."""

from dataclasses import asdict
from typing import Any

from monitoring.demo import PASSWORD
from monitoring.demo.beats import Storyteller
from monitoring.demo.kimbaru import KIMBARU
from monitoring.demo.serra_survey import SERRA
from monitoring.demo.story import every_beat
from monitoring.demo.writing.survey import DEMO_PHONE
from monitoring.models import Estimate
from monitoring.services import passes
from projects.access import service_actor
from projects.figures import percent
from projects.models import FieldPass, Organisation, PlantingDay


def demo_facts() -> dict[str, Any]:
    """Return people, addresses, figures and beats of the demo in this database."""
    beats = [asdict(beat) for beat in every_beat()]
    return {
        "people": people(),
        "addresses": {plan.slug: f"/o/{plan.slug}/" for plan in (SERRA, KIMBARU)},
        "figures": figures(),
        "beats": beats,
    }


def people() -> list[dict[str, str]]:
    """Return everybody who may sign in, with the password everybody knows."""
    return [
        {
            "key": person.key, "who": f"{person.name} ({plan.name})", "email": person.email, "password": PASSWORD,
            "organisation": plan.name, "slug": plan.slug, "role": person.role,
        }
        for plan in (SERRA, KIMBARU)
        for person in plan.people
        if person.email
    ]  # fmt: skip


def figures() -> dict[str, str]:
    """Return named figures as pages write them: trees planted, and survival of every block in its last round."""
    told = Storyteller()
    found = {}
    for plan in (SERRA, KIMBARU):
        days = PlantingDay.objects.filter(
            organisation__slug=plan.slug, voided_at__isnull=True, cohort__unit="tree"
        )
        found[f"trees_planted_{plan.slug}"] = str(sum(days.values_list("quantity", flat=True)))
    rows = Estimate.objects.filter(
        scope="block",
        measure="survival",
        is_headline=True,
        value__isnull=False,
        organisation=told.organisation,
    )
    for name, value, outcome in rows.order_by("round__opens_on").values_list(
        "block__name", "value", "outcome"
    ):
        key = str(name).lower().replace(" ", "_")
        found[f"survival_{key}"], found[f"outcome_{key}"] = percent(value), outcome
    return found


def new_phone_code() -> str:
    """Give the demo's phone pass a new code; the phone that holds the pass now goes on until it is used."""
    organisation = Organisation.objects.get(slug=SERRA.slug, is_demo=True)
    field_pass = FieldPass.objects.get(organisation=organisation, label=DEMO_PHONE)
    return passes.renew_code(actor=service_actor(organisation), field_pass=field_pass).code
