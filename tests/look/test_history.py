"""A history entry reads as what happened, in the words of the record it is about."""

from datetime import UTC, datetime

import pytest
from django.template.loader import render_to_string

from projects.models import HistoryEntry
from projects.templatetags.history import changed_fields, history_words


def entry(**more) -> HistoryEntry:
    given = {
        "verb": "site.edited",
        "subject_kind": "site",
        "subject_label": "Vale Novo",
        "actor_label": "manager",
    }
    return HistoryEntry(happened_at=datetime(2026, 11, 24, 9, 12, tzinfo=UTC), **(given | more))


@pytest.mark.parametrize(
    ("verb", "words"),
    [
        ("site.edited", "Site Vale Novo: changed"),
        ("site.archived", "Site Vale Novo: put away"),
        ("site.turned_over", "Site Vale Novo: turned over"),
    ],
)
def test_an_entry_says_what_was_done_to_what(verb, words):
    assert history_words(entry(verb=verb)) == words


def test_an_entry_about_an_unknown_kind_is_shown_as_stored():
    assert history_words(entry(subject_kind="thing")) == "Thing Vale Novo: changed"


def test_changed_fields_are_called_as_the_form_calls_them_with_before_and_after():
    changes = changed_fields(
        entry(change={"name": ["Vale", "Vale Novo"], "gone_field": [None, True], "odd": "x"})
    )
    assert changes[0] == {"field": "name", "before": "Vale", "after": "Vale Novo"}
    assert changes[1] == {"field": "gone field", "before": "–", "after": "yes"}
    assert len(changes) == 2


def test_a_paper_is_called_by_its_kind_and_an_order_without_a_number_is_not_called_by_its_state():
    paper = changed_fields(entry(change={"paper": [None, "seed_certificate 95b7608a"]}))[0]
    assert paper == {"field": "paper", "before": "–", "after": "certificate of the seed lot"}
    order = {"subject_kind": "stockorder", "verb": "stock_order.placed"}
    assert history_words(entry(subject_label="draft", **order)) == "Stock order: placed"
    assert history_words(entry(subject_label="O-26", **order)) == "Stock order O-26: placed"


def test_a_long_value_is_cut_so_that_a_boundary_does_not_fill_the_page():
    assert len(changed_fields(entry(change={"boundary": ["", "x" * 5000]}))[0]["after"]) <= 120


def test_the_list_shows_who_why_and_escapes_what_people_wrote():
    html = render_to_string("partials/history.html", {"entries": [entry(reason="<b>surveyed again</b>")]})
    assert "(manager)" in html
    assert "&lt;b&gt;surveyed again&lt;/b&gt;" in html
    assert "24 Nov 2026, 09:12" in html


def test_an_empty_history_says_so():
    assert "Nothing has changed" in render_to_string("partials/history.html", {"entries": []})


def test_days_and_lists_of_records_are_written_for_people_not_as_stored():
    label = entry(subject_kind="stocktake", subject_label="20, 2023-12-01")
    assert "20, 1 December 2023" in history_words(label)
    uids = ["dc53c23d-31f4-5443-be07-e4401e0d6e6f", "8e8f449f-1ca9-5890-b460-c9b1b53ede31"]
    shown = changed_fields(
        entry(change={"due_by": ["", "2027-03-31"], "rounds": [[], uids], "note": ["", "see 2027-03-31"]})
    )
    assert [row["after"] for row in shown] == ["31 March 2027", "2 records", "see 2027-03-31"]


def test_a_choice_is_told_in_its_words():
    shown = changed_fields(
        entry(subject_kind="siteassessment", change={"light": ["", "full_sun"], "aspect": ["N", "SW"]})
    )
    assert [(row["before"], row["after"]) for row in shown] == [("–", "full sun"), ("north", "south-west")]
