"""Issuing, renewing and revoking field passes."""

from dataclasses import replace

import pytest
from django.urls import reverse
from django.utils import timezone

from monitoring.models import FieldPassRound
from monitoring.services import passes
from projects import access
from projects.errors import Refusal
from projects.models import FieldPass, HistoryEntry, Person, ProjectGrant
from tests import factories

pytestmark = pytest.mark.django_db


def test_a_pass_names_its_person_rounds_and_end(actor, survey_round, hill):
    issued = passes.issue(actor=actor, rounds=[survey_round], person_name=" A volunteer ", valid_days=30)
    one = issued.field_pass
    assert (one.person.name, one.person.organisation, one.issued_by) == ("A volunteer", hill, actor.person)
    assert (one.expires_at - one.issued_at).days == 30
    assert [row.round for row in FieldPassRound.objects.filter(field_pass=one)] == [survey_round]
    assert len(issued.code) == 12 and issued.code[4] == issued.code[9] == "-"


def test_codes_hold_no_sign_that_is_misread_and_differ(actor, survey_round):
    codes = {passes.new_code() for _ in range(200)}
    assert len(codes) == 200
    assert not set("ILOU") & set("".join(codes))


def test_every_step_is_in_the_history_without_secrets(actor, survey_round):
    issued = passes.issue(actor=actor, rounds=[survey_round], person_name="A volunteer")
    again = passes.renew_code(actor=actor, field_pass=issued.field_pass)
    enrolled = passes.enrol(code=again.code, device="phone")
    passes.revoke(actor=actor, field_pass=enrolled.field_pass, reason="lost")
    entries = list(HistoryEntry.objects.order_by("id"))
    assert [entry.verb for entry in entries] == [
        "field_pass.issued", "field_pass.code_renewed", "field_pass.enrolled", "field_pass.revoked",
    ]  # fmt: skip
    assert entries[3].reason == "lost"
    assert "A volunteer" not in str(
        [(entry.change, entry.subject_label, entry.actor_label) for entry in entries]
    )
    assert issued.code not in str([entry.change for entry in entries])


def test_revoking_twice_is_one_entry(actor, field_pass):
    passes.revoke(actor=actor, field_pass=field_pass)
    passes.revoke(actor=actor, field_pass=field_pass)
    assert HistoryEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [({"rounds": []}, "rounds_needed", "rounds"), ({"person_name": " "}, "person_needed", "person_name"),
     ({"valid_days": 0}, "days_out_of_range", "valid_days"), ({"valid_days": 9999}, "days_out_of_range", "valid_days")],
)  # fmt: skip
def test_what_is_missing_is_refused_by_its_field_and_nothing_is_written(
    actor, survey_round, changes, code, field
):
    with pytest.raises(Refusal) as refusal:
        passes.issue(**{"actor": actor, "rounds": [survey_round], "person_name": "A volunteer", **changes})
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert (FieldPass.objects.count(), Person.objects.filter(name="A volunteer").count()) == (0, 0)


def test_a_closed_round_takes_no_pass(actor, survey_round):
    survey_round.status = "closed"
    survey_round.save()
    with pytest.raises(Refusal) as refusal:
        passes.issue(actor=actor, rounds=[survey_round], person_name="A volunteer")
    assert refusal.value.code == "round_closed"


def test_rounds_and_people_of_another_organisation_are_not_known(actor, survey_round, other, olaf):
    plot = factories.plot(factories.block(other, factories.project(other), factories.site(other)))
    theirs = factories.survey_round(plot.block.project, [plot])
    with pytest.raises(Refusal, match="own projects"):
        passes.issue(actor=actor, rounds=[survey_round, theirs], person_name="A volunteer")
    with pytest.raises(Refusal) as refusal:
        passes.issue(actor=actor, rounds=[survey_round], person=olaf.person)
    assert refusal.value.code == "person_unknown"


def test_a_limited_lead_issues_for_granted_projects_only(hill, survey_round, project):
    lead = access.member_actor(factories.member(hill, "field_lead", projects=[factories.project(hill)]))
    with pytest.raises(Refusal):
        passes.issue(actor=lead, rounds=[survey_round], person_name="A volunteer")
    granted = access.member_actor(factories.member(hill, "field_lead", projects=[project]))
    assert passes.issue(actor=granted, rounds=[survey_round], person_name="A volunteer").code


@pytest.mark.parametrize("member", ["vera", "fred"])
def test_volunteers_and_funders_issue_nothing(request, member, survey_round, field_pass):
    someone = access.member_actor(request.getfixturevalue(member))
    for step in (
        lambda: passes.issue(actor=someone, rounds=[survey_round], person_name="A volunteer"),
        lambda: passes.revoke(actor=someone, field_pass=field_pass),
        lambda: passes.renew_code(actor=someone, field_pass=field_pass),
    ):
        with pytest.raises(passes_denied()):
            step()


def passes_denied() -> type[Exception]:
    from django.core.exceptions import PermissionDenied

    return PermissionDenied


def test_a_revoked_pass_gets_no_new_code(actor, field_pass):
    passes.revoke(actor=actor, field_pass=field_pass)
    with pytest.raises(Refusal) as refusal:
        passes.renew_code(actor=actor, field_pass=field_pass)
    assert refusal.value.code == "pass_over"


def test_a_pass_may_name_projects_for_field_work_beside_rounds_or_alone(actor, survey_round, project, hill):
    both = passes.issue(actor=actor, rounds=[survey_round], projects=[project], person_name="A volunteer")
    alone = passes.issue(actor=actor, rounds=[], projects=[project], person_name="A driver")
    for issued in (both, alone):
        assert [row.project for row in issued.field_pass.work_projects.all()] == [project]
    change = HistoryEntry.objects.filter(verb="field_pass.issued").order_by("id").first().change
    assert change["projects"] == [[], [str(project.uid)]]
    assert passes.actor_of(alone.field_pass).project_ids == frozenset()  # it counts nowhere


def test_projects_of_others_or_put_away_are_not_known(actor, ben, survey_round, project, other, hill):
    away = factories.project(hill, archived_at=timezone.now())
    for unseen in (factories.project(other), away):
        with pytest.raises(Refusal) as refusal:
            passes.issue(actor=actor, rounds=[survey_round], projects=[unseen], person_name="A volunteer")
        assert (refusal.value.code, refusal.value.field) == ("project_unknown", "projects")
    limited = replace(access.member_actor(ben), project_ids=frozenset({project.pk}))
    with pytest.raises(Refusal, match="your own"):
        passes.issue(
            actor=limited,
            rounds=[survey_round],
            projects=[factories.project(hill)],
            person_name="A volunteer",
        )
    assert not FieldPass.objects.exists()


def test_the_page_that_makes_a_code_offers_projects_and_the_pass_names_them(ana, signed_in, project, hill):
    client = signed_in(ana)
    page = client.get(reverse("monitoring:pass_new", args=["hill"]))
    assert "May also record hand-overs, walks and care in" in page.content.decode()
    typed = {"person_name": "A driver", "projects": [project.pk], "valid_days": "30"}
    assert client.post(reverse("monitoring:pass_new", args=["hill"]), typed).status_code == 200
    one = FieldPass.objects.get()
    shown = client.get(reverse("monitoring:pass_detail", args=["hill", one.uid])).content.decode()
    assert "May record hand-overs, walks and care in" in shown and project.name in shown
    assert project.name in client.get(reverse("monitoring:pass_list", args=["hill"])).content.decode()
    empty = client.post(
        reverse("monitoring:pass_new", args=["hill"]), {"person_name": "Nobody", "valid_days": "30"}
    )
    assert (empty.status_code, FieldPass.objects.count()) == (422, 1)


def test_a_lead_of_some_projects_sees_passes_for_work_there_and_names_of_no_other(
    actor, ben, signed_in, project, hill
):
    hidden = factories.project(hill, name="CANARY project")
    ProjectGrant.objects.create(organisation=hill, membership=ben, project=project)
    here = passes.issue(actor=actor, rounds=[], projects=[project, hidden], person_name="A driver").field_pass
    there = passes.issue(actor=actor, rounds=[], projects=[hidden], person_name="Another").field_pass
    client = signed_in(ben)
    for name, args in (("pass_list", []), ("pass_detail", [here.uid])):
        page = client.get(reverse(f"monitoring:{name}", args=["hill", *args])).content.decode()
        assert project.name in page and "CANARY" not in page
    assert client.get(reverse("monitoring:pass_detail", args=["hill", there.uid])).status_code == 404
