"""Members are invited by e-mail, changed, let go; an organisation always keeps a manager."""

import re

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from projects.errors import Refusal
from projects.models import HistoryEntry, Membership, Person, ProjectGrant, User
from projects.services import invitations, people


def address(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


INVITED = {"name": "Lead, north", "email": "Lead@North.example", "role": "field_lead"}


def test_an_invited_person_sets_a_password_through_the_mailed_link_and_signs_in(signed_in, ana):
    signed_in(ana).post(address("person_new"), INVITED)
    member = Membership.objects.get(user__email="lead@north.example")
    assert not member.user.has_usable_password()
    letter = mail.outbox[0]
    assert letter.to == ["lead@north.example"]
    link = re.search(r"http://testserver(/\S+)", letter.body).group(1)
    visitor = Client()
    form = visitor.get(link, follow=True)
    password = {"password1": "a long quiet hedge", "password2": "a long quiet hedge"}
    visitor.post(form.request["PATH_INFO"], password)
    visitor.post(reverse("account_login"), {"login": "lead@north.example", "password": "a long quiet hedge"})
    assert visitor.get(address("home")).status_code == 200
    used = Client().get(link, follow=True).content.decode()
    assert "used before" in used  # the link works once


def test_no_history_entry_and_no_letter_subject_holds_a_name(signed_in, ana, hill):
    signed_in(ana).post(address("person_new"), INVITED)
    for entry in HistoryEntry.objects.all():
        assert "Lead, north" not in f"{entry.subject_label}{entry.change}{entry.reason}"
    assert mail.outbox[0].subject == f"You are invited to {hill.name}"


def test_somebody_with_a_password_elsewhere_is_asked_to_sign_in(signed_in, ana, olaf):
    olaf.user.set_password("a long quiet hedge")
    olaf.user.save()
    signed_in(ana).post(address("person_new"), INVITED | {"email": olaf.user.email})
    assert "Sign in with the password you have" in mail.outbox[0].body
    assert User.objects.filter(email=olaf.user.email).count() == 1


def test_a_letter_that_cannot_leave_is_said_and_the_member_stands(signed_in, ana, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # nobody listens there
    page = signed_in(ana).post(address("person_new"), INVITED, follow=True).content.decode()
    assert "the e-mail did not leave" in page
    assert Membership.objects.filter(user__email="lead@north.example").exists()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("email", "no address", "valid e"),
        ("email", "ana@hill.example", "member already"),
        ("role", "king", "not one of the available"),
        ("name", "", "required"),
    ],
)
def test_a_bad_invitation_names_its_field_and_writes_nothing(signed_in, ana, field, value, words):
    before = (User.objects.count(), Person.objects.count(), Membership.objects.count())
    answer = signed_in(ana).post(address("person_new"), INVITED | {field: value})
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field]).replace("email", "e-mail")
    assert (User.objects.count(), Person.objects.count(), Membership.objects.count()) == before
    assert mail.outbox == []


def test_a_funder_without_a_project_is_refused_whole(actor):
    with pytest.raises(Refusal) as caught:
        people.invite(actor=actor, email="fund@er.example", name="Funder", role="funder")
    assert caught.value.field == "projects"
    assert not User.objects.filter(email="fund@er.example").exists()


def test_grants_are_given_and_withdrawn_with_history(actor, fred, project):
    people.edit_member(actor=actor, membership=fred, role="field_lead", projects=[])
    assert not ProjectGrant.objects.filter(membership=fred).exists()
    changes = [entry.change for entry in HistoryEntry.objects.filter(subject_uid=fred.uid).order_by("id")]
    assert changes == [{"role": ["funder", "field_lead"]}, {"projects": ["Terraces", ""]}]


def test_the_last_manager_can_neither_step_down_nor_leave(signed_in, ana, actor):
    for act in (
        lambda: people.edit_member(actor=actor, membership=ana, role="field_lead", projects=[]),
        lambda: people.end_membership(actor=actor, membership=ana),
    ):
        with pytest.raises(Refusal) as caught:
            act()
        assert caught.value.code == "last_manager"
    page = signed_in(ana).post(address("person_end", ana), follow=True).content.decode()
    assert "Make somebody else a manager first" in page
    ana.refresh_from_db()
    assert (ana.role, ana.ended_at) == ("manager", None)


def test_somebody_let_go_meets_a_closed_door_at_once_and_can_come_back(signed_in, ana, ben, actor):
    browser = signed_in(ben)
    assert browser.get(address("home")).status_code == 200
    signed_in(ana).post(address("person_end", ben))
    assert browser.get(address("home")).status_code == 404
    again = people.invite(actor=actor, email=ben.user.email, name="Ben", role="field_lead")
    assert again.user == ben.user
    assert browser.get(address("home")).status_code == 200


def test_an_edit_on_an_old_version_of_a_member_is_refused(signed_in, ana, ben):
    browser = signed_in(ana)
    seen = browser.get(address("person_edit", ben)).context["form"]["version"].value()
    fields = {"name": "Ben", "role": "manager", "version": seen}
    assert browser.post(address("person_edit", ben), fields).status_code == 302
    stale = browser.post(address("person_edit", ben), fields | {"role": "field_lead"})
    assert stale.status_code == 422
    ben.refresh_from_db()
    assert ben.role == "manager"


def test_only_managers_see_people(signed_in, ben, fred, ana):
    for member in (ben, fred):
        assert signed_in(member).get(address("people")).status_code == 403
        assert signed_in(member).get(address("person_detail", ana)).status_code == 403


def test_a_password_link_is_of_one_person(ana, ben):
    assert invitations.password_path(ana.user) != invitations.password_path(ben.user)


def test_the_organisation_is_set_up_with_history(signed_in, ana, hill):
    browser = signed_in(ana)
    fields = {
        "name": "Hill group", "time_zone": "Africa/Nairobi", "currency": "kes", "language": "en-gb", "units": "us",
        "emergency_contact": "999",
    }  # fmt: skip
    assert browser.post(address("organisation_edit"), fields).status_code == 302
    hill.refresh_from_db()
    assert (hill.name, hill.currency, hill.units) == ("Hill group", "KES", "us")
    assert HistoryEntry.objects.get(verb="organisation.edited").change["currency"] == ["EUR", "KES"]
    bad = browser.post(address("organisation_edit"), fields | {"currency": "12"})
    assert "three capital letters" in bad.context["form"].errors["currency"][0]
