"""Which method page explains a figure, and how the page is told whose figure it is."""

from typing import Any

from django.urls import reverse

from monitoring import result_words
from projects import figure_links
from projects.interval_bar import read

PAGES_OF_MEASURES = {
    "stocking": "stocking",
    "stocking_planted": "stocking",
    "stocking_natural": "stocking",
    "stocking_capped": "stocking",
    "plots_stocked": "stocking",
    "young_natural_trees": "young-natural-trees",
    "trees": "season-totals",
    "survival_if_found": "not-found",
    "survival_removed_alive": "not-found",
}


def method_address(org: str, figure: Any) -> str:
    """The method page of a figure, with the figure's identity where it has one."""
    name = read(figure, "explained_by") or page_of(read(figure, "method"), read(figure, "measure"))
    address, uid = reverse("monitoring:method", kwargs={"org": org, "name": name}), read(figure, "uid")
    return f"{address}?figure={uid}" if uid else address


def page_of(method: str | None, measure: str | None) -> str:
    """The page of a measure that has one of its own, else of the method."""
    return PAGES_OF_MEASURES.get(measure or "") or result_words.METHOD_PAGES.get(method or "", "survival")


def register_links() -> None:
    figure_links.register(method_address)
