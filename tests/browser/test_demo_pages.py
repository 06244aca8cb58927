"""Every main page of the demo in a real browser: no complaint, no sideways scrolling, and the README's pictures."""

import os
import re

import pytest
from django.urls import reverse

from monitoring.models import SeasonSummary, SurveyRound
from monitoring.services import passes
from projects.access import member_actor
from projects.models import Block, Membership, StockLot
from tests.browser.conftest import PICTURES

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
ORG = "serra-clara"


def url(name: str, **kwargs) -> str:
    return reverse(name, kwargs={"org": ORG, **kwargs})


def pages() -> dict[str, str]:
    """Return the pages to open, by a short name."""
    rounds = SurveyRound.objects.filter(organisation__slug=ORG).order_by("-opens_on", "name")
    terraces = rounds.filter(project__name="Terraces to Oak")[1]
    lot = StockLot.objects.filter(organisation__slug=ORG, storages__isnull=False).first()
    block = Block.objects.get(organisation__slug=ORG, name="Upper terraces")
    return {
        "home": url("projects:home"),
        "sites": url("projects:site_list"),
        "site": url("projects:site_detail", uid=block.site.uid),
        "block": url("projects:block_detail", uid=block.uid),
        "windows": url("projects:block_windows", uid=block.uid),
        "where from": url("monitoring:trace_block", uid=block.uid),
        "project": url("projects:project_detail", uid=block.project.uid),
        "stock": url("projects:stock"),
        "lot": url("projects:lot_detail", uid=lot.uid),
        "rounds": url("monitoring:round_list"),
        "round": url("monitoring:round_detail", uid=terraces.uid),
        "sheets": url("monitoring:sheet_print", uid=terraces.uid) + "?all=1",
        "cases": url("monitoring:case_list"),
        "needs": url("monitoring:need_list"),
        "compare": url("monitoring:compare", uid=terraces.uid),
        "summaries": url("monitoring:summary_list"),
        "summary": url(
            "monitoring:summary_detail", uid=SeasonSummary.objects.filter(organisation__slug=ORG)[0].uid
        ),
        "phones": url("monitoring:pass_list"),
        "people": url("projects:people"),
        "species": url("species:list"),
        "methods": url("monitoring:method_list"),
    }


def test_the_demos_pages_fit_phone_and_desk_without_a_complaint(demo, desk_of, crew):
    manager = Membership.objects.get(organisation__slug=ORG, role="manager").user
    wrong = []
    for width in (1280, 390, 320):
        desk = desk_of(manager, width)
        for name, path in pages().items():
            text = desk.open(path)
            desk.page.wait_for_load_state("networkidle")
            if desk.overflow() > 0:
                wrong.append(f"{name} at {width}: {desk.overflow()} px too wide")
            if re.search(r"\bNone\b|\{\{|\{%", text):
                wrong.append(f"{name} at {width}: shows raw values")
            if width == 1280 and name in ("home", "round", "summary"):
                desk.picture(name)
                desk.page.set_viewport_size({"width": width, "height": 900})
        wrong += [f"{width}: {complaint}" for complaint in desk.complaints]
    assert not wrong, "\n".join(wrong)
    check_the_phone_form(crew)


def check_the_phone_form(crew) -> None:
    """The form opens a demo round with the network off."""
    lead = Membership.objects.filter(organisation__slug=ORG, role="manager").first()
    survey_round = SurveyRound.objects.filter(organisation__slug=ORG, status="open").order_by("name").last()
    card = passes.issue(
        actor=member_actor(lead), rounds=[survey_round], person_name="Volunteer for a picture"
    )
    crew.enrol(card.code)
    crew.context.set_offline(True)
    crew.page.reload()
    crew.see("Plots to count")
    crew.press("LT-")
    crew.press("Count")
    crew.page.wait_for_selector("#field-line-0-alive")
    if os.environ.get("TALLYGROVE_WRITE_PICTURES") == "1":
        PICTURES.mkdir(exist_ok=True)
        crew.page.screenshot(path=str(PICTURES / "phone.png"))
