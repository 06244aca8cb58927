"""A paper sheet typed at the desk: the same marks, what is odd refused beside its field."""

import pytest
from django.urls import reverse

from monitoring.models import CountLine, Removal, Visit
from projects.models import Submission
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(signed_in, ben, survey_round, plots):
    """Send a sheet of the first plot; returns the answer."""
    client = signed_in(ben)
    address = reverse(
        "monitoring:desk_entry", kwargs={"org": "hill", "round": survey_round.uid, "uid": plots[0].uid}
    )

    def send(**marks):
        data = {"visit-observed_on": "2025-09-14", "visit-status": "counted", "line-0-alive": "14"}
        for n in range(4):
            data[f"regeneration-{n}-height_class"] = "lower"
        return client.post(address, {**data, **marks})

    send.page = lambda: client.get(address).content.decode()
    return send


def test_a_sheet_becomes_a_visit_and_the_next_plot_comes_up(sheet, plots):
    answer = sheet(**{"line-0-dead_stem": "2", "line-0-sign_bitten": "2", "line-0-heights": "45 60"})
    assert str(plots[1].uid) in answer.url
    row = CountLine.objects.get()
    assert (row.alive, row.dead_stem, row.not_found, row.signs, row.heights_cm) == (
        14,
        2,
        4,
        {"bitten": 2},
        [45, 60],
    )
    assert Submission.objects.get().source == "desk"


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ({"line-0-alive": ""}, "Write how many are alive, 0 if none."),
        ({"line-0-alive": "many"}, "Write a whole number in digits"),
        ({"line-0-alive": "21"}, "More are alive than were planted"),
        ({"line-0-not_found": "1"}, "does not add up"),
        ({"visit-observed_on": "2199-01-01"}, "The date lies in the future"),
        ({"line-0-heights": "tall"}, "Write whole centimetres"),
        ({"regeneration-0-count": "3"}, "Name the species that came up"),
        ({"removal-0-alive_removed": "3"}, "Say which species was taken out"),
    ],
)
def test_what_is_odd_is_refused_beside_its_field_and_nothing_is_written(sheet, marks, words):
    answer = sheet(**marks)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Submission.objects.exists()
    assert not Visit.objects.exists()


def test_unsafe_is_a_full_answer_without_any_count(sheet):
    assert sheet(**{"visit-status": "missing:unsafe", "line-0-alive": ""}).status_code == 302
    assert (Visit.objects.get().status, Visit.objects.get().reason) == ("missing", "unsafe")


def test_a_second_sheet_corrects_the_first_and_starts_from_it(sheet):
    sheet()
    assert 'value="14"' in sheet.page()
    sheet(**{"line-0-alive": "15"})
    assert [visit.is_counting for visit in Visit.objects.order_by("submission_seq")] == [False, True]


def test_regeneration_and_removals_reach_the_record(sheet, oak, baselines):
    factories.species("betula-pubescens")
    sheet(
        **{
            "regeneration-0-name": "birch", "regeneration-0-count": "20", "regeneration-0-capped": "on",
            "removal-0-baseline": str(baselines[0].line), "removal-0-removed_on": "2025-02-01",
            "removal-0-alive_removed": "2",
        }
    )  # fmt: skip
    visit = Visit.objects.get()
    assert list(visit.regeneration.values_list("name", "count", "capped")) == [("birch", 20, True)]
    assert Removal.objects.get().alive_removed == 2
    assert CountLine.objects.get().not_found == 4  # 20 planted, 2 taken out, 14 alive


def test_a_plot_outside_the_round_has_no_sheet(signed_in, ben, survey_round, block):
    stray = factories.plot(block)
    address = reverse(
        "monitoring:desk_entry", kwargs={"org": "hill", "round": survey_round.uid, "uid": stray.uid}
    )
    assert signed_in(ben).get(address).status_code == 404


def test_sheets_are_printed_for_the_plots_not_visited_yet(signed_in, ben, sheet, survey_round):
    sheet()
    client = signed_in(ben)
    address = reverse("monitoring:sheet_print", kwargs={"org": "hill", "uid": survey_round.uid})
    text = client.get(address).content.decode()
    assert "Plot N2" in text
    assert "Plot N1" not in text
    assert "Plot N1" in client.get(address + "?all=1").content.decode()
