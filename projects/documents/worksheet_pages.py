"""The blank planning worksheet, for those who think on paper: the same steps in the same order as on screen."""

from typing import Any

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from projects import plan_words, readiness_words
from projects.documents import items as put
from projects.documents.items import Item
from projects.models import Organisation, StockType


def worksheet_pages(organisation: Organisation) -> dict[str, Any]:
    """Pages with room to write; nothing of any plan stands on them."""
    language, _dash, region = (get_language() or "en").partition("-")
    return {
        "title": _("Planning worksheet"), "author": organisation.name, "lang": language, "region": region or None,
        "paper": "us-letter" if organisation.units == "us" else "a4", "running": _("Planning worksheet"),
        "state": _("blank, to be filled in"), "is_draft": False, "footer": organisation.name,
        "page_words": [_("page"), _("of")],
        "items": [
            put.words(_("One for each site. Take the steps in this order; leave blank what you do not know yet.")),
            *_site(), *_ground(), *_species(), *_windows(organisation), *_mix(), *_orders(), *_money(), *_people(),
            *_crew(),
        ],
    }  # fmt: skip


def _site() -> list[Item]:
    return [
        put.blank_facts([_("Project and purpose"), _("Site"), _("Filled in by, on")]),
        put.blank_facts([_("Emergency number here, and where a telephone works")], grave=True),
    ]


def _ground() -> list[Item]:
    return [
        put.heading(_("1  Is the ground ready, and who has agreed?"), 1),
        put.tick_boxes(
            [
                _("right to the land, in writing, until"), _("consent of those who hold rights, until"),
                _("community agreement, until"), _("permit, number and until"),
            ],
            caption=_("In hand (write the date beside it):"),
        ),
        put.tick_boxes(
            [str(question) for question in readiness_words.QUESTIONS.values()], columns=1,
            caption=_("Tick what you have asked about. Every one that speaks against planting stops the plan until "
                      "it is cleared, or somebody answers for it by name:"),
        ),
        put.lines(_("Stops that stand, and who answers for them"), 2),
        put.lines(_("What the land was, what grows there now, what will compete"), 2),
        put.lines(_("Which way it faces, how steep, how light; dangers for people"), 2),
        put.blank_table(
            [put.column(_("Soil: where"), 3), put.column(_("texture"), 2), put.column(_("pH"), 1),
             put.column(_("depth"), 1), put.column(_("wet or dry"), 2), put.column(_("young natural trees"), 2)],
            3,
        ),
        put.lines(_("Nearest seed trees: which, how far"), 1),
        put.lines(_("Plant, assist what comes by itself, or leave alone? Why?"), 1),
    ]  # fmt: skip


def _species() -> list[Item]:
    return [
        put.heading(_("2  Which species fit"), 1),
        put.blank_table(
            [put.column(_("Species"), 4), put.column(_("Native here?"), 2), put.column(_("What limits it"), 3),
             put.column(_("What it is for"), 3), put.column(_("Seed source"), 3)],
            7,
        ),
    ]  # fmt: skip


def _windows(organisation: Organisation) -> list[Item]:
    types = ", ".join(str(label) for label in StockType.labels)
    return [
        put.heading(_("3  When each kind of stock can go in"), 1),
        put.blank_table(
            [put.column(_("Stock type"), 3), put.column(_("From"), 2), put.column(_("Why not earlier"), 3),
             put.column(_("Best week"), 2), put.column(_("Latest day"), 2), put.column(_("Why not later"), 3)],
            4, caption=_("Stock types: %(types)s.") % {"types": types},
        ),
    ]  # fmt: skip


def _mix() -> list[Item]:
    return [
        put.heading(_("4  The mix"), 1),
        put.blank_facts([_("Block, net area, spacing, planting spots")]),
        put.blank_table(
            [put.column(_("Species"), 4), put.column(_("Stock type"), 2), put.column(_("Wave"), 1),
             put.column(_("Plants"), 2), put.column(_("Share"), 1), put.column(_("Expected alive"), 2)],
            8, total=_("Sum (no more than the spots)"),
        ),
    ]  # fmt: skip


def _orders() -> list[Item]:
    return [
        put.new_page(),
        put.heading(_("5  How many to order, and by when"), 1),
        put.words(
            _("To order = to plant ÷ ((1 − share culled) × (1 − share lost in handling)). "
              "Order by = first day of planting − weeks the nursery needs − spare weeks."), soft=True,
        ),
        put.blank_table(
            [put.column(_("What"), 4), put.column(_("Nursery"), 3), put.column(_("To order"), 2),
             put.column(_("Price of one"), 2), put.column(_("Order by"), 2), put.column(_("Comes on"), 2),
             put.column(_("Plant by"), 2)],
            6,
        ),
    ]  # fmt: skip


def _money() -> list[Item]:
    return [
        put.heading(_("6  What it costs"), 1),
        put.blank_table(
            [put.column(_("What for"), 4), put.column(_("Season"), 2), put.column(_("Planned"), 2),
             put.column(_("Spent"), 2), put.column(_("Who pays"), 3)],
            6, total=_("Sum, with what is set aside"),
        ),
    ]  # fmt: skip


def _people() -> list[Item]:
    return [
        put.heading(_("7  Who looks after the trees, and what they gain"), 1),
        put.blank_table(
            [put.column(_("Who"), 3), put.column(_("What was agreed"), 4), put.column(_("Until"), 2),
             put.column(_("What they may gain, from … to, in which years"), 5)],
            4,
        ),
    ]  # fmt: skip


def _crew() -> list[Item]:
    return [
        put.heading(_("8  When the crew does not plant"), 1),
        put.lines(_("What to look for in the morning: cold, heat, wind, frozen ground, standing water, thunder"), 2),
        put.blank_facts([_("People, trees each a day, days of work"), _("Meeting place, leader, back by")]),
        put.heading(_("9  The plan"), 1),
        put.lines(_("What is not known yet, and who finds out by when"), 3),
        put.words(plan_words.caution(), strong=True),
    ]  # fmt: skip
