"""Two people on one record: the second is told, sees both versions, and nothing is undone silently."""

import re

import pytest
from django.urls import reverse

from projects import versions
from projects.models import HistoryEntry, Nursery
from projects.services import nurseries
from projects.services.editing import ChangedMeanwhile


@pytest.fixture
def nursery(actor):
    return nurseries.make_nursery(actor=actor, name="Alto", lead_time_weeks=10)


def test_an_edit_made_on_an_old_version_is_refused(actor, nursery):
    seen = versions.token(nursery)
    nurseries.edit_nursery(actor=actor, nursery=nursery, version=seen, name="Alto", lead_time_weeks=12)
    with pytest.raises(ChangedMeanwhile) as caught:
        nurseries.edit_nursery(actor=actor, nursery=nursery, version=seen, name="Alto", lead_time_weeks=8)
    assert caught.value.stored["lead_time_weeks"] == 12
    assert Nursery.objects.get().lead_time_weeks == 12


def test_the_form_shows_both_versions_and_saving_again_replaces_knowingly(signed_in, ana, actor, nursery):
    browser = signed_in(ana)
    address = reverse("projects:nursery_edit", kwargs={"org": "hill", "uid": nursery.uid})
    seen = browser.get(address).context["form"]["version"].value()
    nurseries.edit_nursery(actor=actor, nursery=nursery, contact="by letter")
    fields = {"name": "Alto de Cima", "lead_time_weeks": "10", "version": seen}
    refused = browser.post(address, fields)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "Somebody else changed this" in page
    assert "by letter" in page
    assert "Alto de Cima" in page
    assert Nursery.objects.get().name == "Alto"
    shown = re.search(r'name="version" value="(\w+)"', page).group(1)
    assert shown != seen
    assert browser.post(address, fields | {"version": shown}).status_code == 302
    assert Nursery.objects.get().name == "Alto de Cima"
    assert HistoryEntry.objects.filter(subject_uid=nursery.uid, verb="nursery.edited").count() == 2


def test_a_version_changes_with_any_field_and_with_nothing_else(nursery):
    before = versions.token(nursery)
    assert versions.token(Nursery.objects.get()) == before
    nursery.notes = "closed in August"
    assert versions.token(nursery) != before
