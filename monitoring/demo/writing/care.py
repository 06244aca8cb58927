"""Aftercare of the demo. No service writes care tasks yet, so the rows are made here."""

from datetime import date

from monitoring.demo.shapes import OrganisationPlan
from monitoring.models import RegenerationLine
from projects.access import Actor
from projects.models import Block, CareKind, CareTask
from species.models import RangeStatus

ROUTINE = {
    "Upper terraces": ((CareKind.WEEDING, "Cut bracken around the oaks", date(2026, 6, 15), date(2026, 6, 24)),),
    "West burnt slope": ((CareKind.GUARDS, "Fence against the goats of the common", date(2027, 1, 15), None),),
    "Lane hedge": ((CareKind.WEEDING, "Renew the straw along the hedge", date(2026, 5, 10), date(2026, 5, 8)),),
    "Square trees": ((CareKind.WATER, "Water the square trees in summer", date(2026, 8, 31), date(2026, 8, 31)),),
    "Ridge top": ((CareKind.WEEDING, "Ring-weed the young trees", date(2026, 12, 10), None),),
}  # fmt: skip


def write_tasks(actor: Actor, plan: OrganisationPlan) -> None:
    """Write routine care, and one task for every block in which invasive growth was counted."""
    blocks = {
        row.name: row for row in Block.objects.filter(organisation=actor.organisation).select_related("site")
    }
    for name, tasks in ROUTINE.items():
        for kind, what, due_by, done_on in tasks:
            if name in blocks:
                CareTask.objects.create(
                    organisation=actor.organisation, block=blocks[name], kind=kind, what=what, due_by=due_by,
                    done_on=done_on, currency=plan.currency,
                )  # fmt: skip
    for block in blocks.values():
        write_invasive_task(actor, plan, block)


def write_invasive_task(actor: Actor, plan: OrganisationPlan, block: Block) -> None:
    """Open one task per block whose plots hold species that are invasive in its country."""
    invasive = RangeStatus.objects.filter(country_code=block.site.country_code, status="invasive").values(
        "species_id"
    )
    seen = RegenerationLine.objects.filter(
        visit__plot__block=block, visit__is_counting=True, species_id__in=invasive
    )
    line = seen.order_by("-visit__observed_on", "id").select_related("species", "visit").first()
    if line is not None and line.species is not None:
        CareTask.objects.get_or_create(
            organisation=actor.organisation, source_key=f"invasive:{block.uid}:{line.species.slug}",
            defaults={
                "block": block, "kind": CareKind.INVASIVE, "due_by": date(2027, 3, 31), "currency": plan.currency,
                "what": f"Pull young {line.species.scientific_name} before it seeds",
            },
        )  # fmt: skip
