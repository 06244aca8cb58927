"""The whole demo, written at once: both organisations or nothing."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.db import transaction

from monitoring.demo import SEED
from monitoring.demo.kimbaru import KIMBARU
from monitoring.demo.serra_lots import waiting_lot
from monitoring.demo.serra_survey import SERRA
from monitoring.demo.shapes import OrganisationPlan
from monitoring.demo.sheets import Sheets
from monitoring.demo.writing import assessment, care, field_days, growing, people, places, planning
from monitoring.demo.writing.fixed_identities import fixed_identities
from monitoring.demo.writing.stock import StockBook
from monitoring.demo.writing.survey import SurveyBook
from projects.models import Role

PLANS = (SERRA, KIMBARU)

Tell = Callable[[str, int], None]  # what is being done, how many records are done


@dataclass(frozen=True)
class Loaded:
    """What only the loading knows: the code of the demo's phone."""

    phone_code: str


def records_to_send(plan: OrganisationPlan) -> int:
    """Return how many phone records an organisation has."""
    sheets = Sheets(plan, SEED)
    rows = len(sheets.baseline_sheets()) + sum(len(sheets.round_sheets(row)) for row in plan.rounds)
    return rows + bool(plan.specials)


def load(today: date, tell: Tell) -> Loaded:
    """Write both organisations in one transaction; nothing is half there when something fails."""
    with quiet_jobs(), transaction.atomic():
        codes = [load_organisation(plan, today, tell) for plan in PLANS]
    return Loaded(phone_code=codes[0])


@contextmanager
def quiet_jobs() -> Iterator[None]:
    """Leave computing to the command, which waits for it, rather than to a thread beside it."""
    before = settings.JOBS_EMBEDDED_THREAD
    settings.JOBS_EMBEDDED_THREAD = False
    try:
        yield
    finally:
        settings.JOBS_EMBEDDED_THREAD = before


def load_organisation(plan: OrganisationPlan, today: date, tell: Tell) -> str:
    """Write one organisation and return the code of its demo phone."""
    with fixed_identities(plan.slug):
        tell(plan.name, 0)
        organisation = people.write_organisation(plan)
        actor = people.member(organisation, Role.MANAGER)
        people.write_seasons(actor, plan)
        places.write_projects(actor, plan)
        people.write_members(actor, plan)
        places.write_sites(actor, plan)
        places.write_blocks(actor, plan)
        places.write_windows_and_money(actor, plan)
        if plan is SERRA:
            assessment.write_assessment(actor, today)
        write_stock(StockBook(actor, plan), today)
        survey = SurveyBook(actor, plan, Sheets(plan, SEED))
        code = write_survey(survey, today, tell)
        care.write_tasks(actor, today)
        if plan is SERRA:
            planning.write_planning(actor, plan)
            field_days.write_field_days(actor, today)
        return code


def write_stock(book: StockBook, today: date) -> None:
    """Write what was ordered, received, planted and lost; for the first group also what is running now."""
    rows = book.plan.lots
    book.write_nurseries()
    book.write_offers()
    book.write_lots(rows)
    book.write_plantings()
    book.write_movements(rows)
    if book.plan is SERRA:
        waiting = (waiting_lot(today),)
        book.write_lots(waiting)
        book.write_movements(waiting)
        book.write_draft_order(today)
        growing.write_growing(book, today)


def write_survey(survey: SurveyBook, today: date, tell: Tell) -> str:
    """Write plots and rounds, send every record, close what is over."""
    survey.write_plots()
    survey.open_rounds(today)
    survey.issue_phones()
    for number in survey.send():
        tell(survey.plan.name, number)
    survey.settle_cases()
    survey.assign_causes()
    survey.close_rounds()
    return survey.issue_demo_phone()
