"""One beat of the demo's story, and the finder of the rows the story is about."""

from dataclasses import dataclass
from uuid import UUID

from django.urls import reverse

from monitoring.demo.serra_people import TERRACES
from monitoring.demo.serra_survey import SERRA
from monitoring.models import Estimate, PerformanceRow, SeasonSummary, SurveyRound, SurvivalPlot, Visit
from projects.models import Block, Organisation, Reminder, StockLot

MANAGER, KENYAN, SCHOOLS = "serra_manager", "kimbaru_manager", "serra_school_funder"
AUTUMN = "autumn 2026"


@dataclass(frozen=True)
class Beat:
    """One thing the demo shows: whose eyes, which page, which words."""

    key: str
    story: str
    path: str
    expect: tuple[str, ...]
    person: str = MANAGER


class Storyteller:
    """Finds the rows of the first organisation that the beats are about."""

    def __init__(self) -> None:
        self.organisation = Organisation.objects.get(slug=SERRA.slug, is_demo=True)
        self.org = {"organisation": self.organisation}

    def page(self, name: str, uid: UUID | None = None, slug: str = SERRA.slug) -> str:
        """Return the address of a page."""
        return reverse(name, kwargs={"org": slug} | ({"uid": uid} if uid else {}))

    def block(self, name: str) -> Block:
        return Block.objects.get(name=name, **self.org)

    def lot(self, code: str) -> StockLot:
        return StockLot.objects.get(code=code, **self.org)

    def lot_page(self, code: str) -> str:
        return self.page("projects:lot_detail", self.lot(code).uid)

    def block_page(self, name: str) -> str:
        return self.page("projects:block_detail", self.block(name).uid)

    def plot_page(self, plot: SurvivalPlot) -> str:
        return self.page("monitoring:plot_detail", plot.uid)

    def round_of(self, project: str) -> SurveyRound:
        """Return a project's round of the last autumn."""
        return SurveyRound.objects.get(name=f"{project}, {AUTUMN}", **self.org)

    def round_page(self, project: str) -> str:
        return self.page("monitoring:round_detail", self.round_of(project).uid)

    def figure(self, project: str, block: str, measure: str = "survival") -> Estimate:
        """Return the headline of a block in the last round of its project."""
        return Estimate.objects.get(
            round=self.round_of(project),
            scope="block",
            block=self.block(block),
            measure=measure,
            is_headline=True,
        )

    def peer(self, code: str) -> PerformanceRow:
        """Return how a lot compares in the last round of the terraces."""
        return PerformanceRow.objects.get(
            round=self.round_of(TERRACES), scope="lot", key=str(self.lot(code).uid)
        )

    def reminder(self, kind: str, **facts: object) -> Reminder:
        """Return the one reminder of a kind with these facts."""
        return Reminder.objects.get(
            kind=kind, **self.org, **{f"facts__{name}": value for name, value in facts.items()}
        )

    def visit(self, project: str, block: str, plot: str) -> Visit:
        """Return the counting visit of a plot in the last round."""
        return Visit.objects.select_related("plot").get(
            round=self.round_of(project), plot__block=self.block(block), plot__name=plot, is_counting=True
        )

    def summary_page(self) -> str:
        return self.page("monitoring:summary_detail", SeasonSummary.objects.get(**self.org).uid)
