"""A count's whole way: counted with no signal, kept through closing, sent once, and seen by the manager."""

import pytest
from django.urls import reverse

from monitoring.models import Estimate, Visit
from monitoring.services import drain, passes
from projects.models import Submission

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_two_plots_counted_without_signal_arrive_once_and_change_the_managers_page(
    crew, desk_of, ana, actor, survey_round
):
    card = passes.issue(actor=actor, rounds=[survey_round], person_name="A volunteer")
    desk = desk_of(ana.user)
    page = reverse("monitoring:round_detail", kwargs={"org": "hill", "uid": survey_round.uid})
    assert "0 of 3 plots visited" in desk.open(page)

    crew.enrol(card.code)
    crew.context.set_offline(True)
    crew.count("N1", 18)
    crew.press("Next plot")
    crew.count("N2", 11)
    crew.context.close()
    crew.open(offline=True)
    crew.go()
    crew.status("2 to send")
    assert Submission.objects.count() == 0

    crew.context.set_offline(False)
    crew.status("nothing to send")
    assert Submission.objects.count() == 2
    assert Visit.objects.filter(is_counting=True).count() == 2
    drain.work_through()
    text = desk.open(page)
    assert "2 of 3 plots visited" in text
    figure = Estimate.objects.get(scope="block", measure="survival", is_headline=True, round=survey_round)
    assert figure.value == pytest.approx(29 / 40)  # 18 + 11 of 20 + 20
    assert "73" in text  # 72.5 % of 40 trees, as the page rounds it
    assert desk.complaints == []
