"""What monitoring does when planting, ground, a target or a lot changes below it: figures resting on it are stale."""

from monitoring.services import dirty, hints, resettling
from projects.announcements import listen
from projects.models import Block, Job, Organisation, StockLot


def register() -> None:
    """Listen to what projects announces; records are held back before the work list is written, as they are."""
    listen("planting_changed", resettling.after_planting_changed)
    for kind in ("planting_changed", "ground_changed", "block_changed"):
        listen(kind, dirty.mark_block)
    listen("project_changed", dirty.mark_project)
    listen("lot_changed", mark_lot)
    listen("status_changed", mark_country)
    listen("job_waiting", hint_at_job)


def hint_at_job(job: Job) -> None:
    """Tell whoever works that a job waits."""
    hints.after_commit(job.organisation_id, [(hints.JOB, str(job.pk))])


def mark_lot(lot: StockLot) -> None:
    """Mark every block a lot was planted in."""
    for block in Block.objects.filter(cohorts__lot=lot).distinct().order_by("id"):
        dirty.mark_block(block)


def mark_country(place: tuple[Organisation, str]) -> None:
    """Mark every block of an organisation in a country: what is invasive there does not count as stocking."""
    organisation, country_code = place
    for block in Block.objects.filter(organisation=organisation, site__country_code=country_code).order_by(
        "id"
    ):
        dirty.mark_block(block)
