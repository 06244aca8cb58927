"""The page frame, the account pages in it, and the pages that say what went wrong."""

import re
from types import SimpleNamespace

import pytest
from django import forms
from django.core import mail
from django.template.loader import render_to_string
from django.test import Client

from projects.models import User

pytestmark = [pytest.mark.urls("tests.look.urls_frame"), pytest.mark.django_db]

PASSWORD = "nine oaks on a terrace"


@pytest.fixture
def client():
    return Client(raise_request_exception=False)


@pytest.fixture
def manager():
    return User.objects.create_user("ana@example.org", PASSWORD)


def text(response) -> str:
    return response.content.decode()


def main_heading(response) -> str:
    return re.search(r"<h1>(.*?)</h1>", text(response), re.DOTALL)[1]


@pytest.mark.parametrize(
    "address",
    [
        "login",
        "logout",
        "password/reset",
        "password/reset/done",
        "password/reset/key/done",
        "signup",
        "inactive",
    ],
)
def test_an_account_page_is_drawn_in_our_frame(client, manager, address):
    if address == "logout":
        client.force_login(manager)
    page = client.get(f"/accounts/{address}/")
    assert page.status_code == 200
    assert 'class="wordmark"' in text(page)
    assert text(page).count("<h1>") == 1


def test_sign_up_is_closed_and_says_how_to_join(client):
    page = client.post("/accounts/signup/", {"email": "new@example.org", "password1": PASSWORD})
    assert main_heading(page) == "You join by invitation"
    assert not User.objects.exists()


def test_a_person_signs_in_by_e_mail_and_out_again(client, manager):
    page = client.post(
        "/accounts/login/", {"login": "ana@example.org", "password": PASSWORD, "next": "/plain/"}
    )
    assert page.status_code == 302
    assert page.url == "/plain/"
    assert "Sign out" in text(client.get("/plain/"))
    client.post("/accounts/logout/")
    assert "Sign out" not in text(client.get("/plain/"))


def test_a_wrong_password_is_said_on_top_with_what_was_typed_kept(client, manager):
    page = client.post("/accounts/login/", {"login": "ana@example.org", "password": "wrong"})
    assert 'class="error-summary"' in text(page)
    assert "<title>Error: Sign in" in text(page)
    assert 'value="ana@example.org"' in text(page)


def test_a_new_password_is_set_through_the_link_in_the_letter(client, manager):
    client.post("/accounts/password/reset/", {"email": "ana@example.org"})
    link = re.search(r"http://testserver(\S+)", mail.outbox[0].body)[1]
    page = client.get(link, follow=True)
    assert main_heading(page) == "Set a new password"
    place = page.redirect_chain[-1][0]
    new = "ten oaks on a terrace"
    done = client.post(place, {"password1": new, "password2": new}, follow=True)
    assert main_heading(done) == "The new password is set"
    manager.refresh_from_db()
    assert manager.check_password(new)


def test_a_used_link_offers_a_new_one(client):
    page = client.get("/accounts/password/reset/key/1-gone/", follow=True)
    assert "Ask for a new link" in text(page)


def test_asking_for_an_unknown_address_answers_the_same_and_writes_how_to_join(client):
    page = client.post("/accounts/password/reset/", {"email": "nobody@example.org"}, follow=True)
    assert main_heading(page) == "Look in your mail"
    assert "ask them to invite you" in mail.outbox[0].body


def test_the_password_page_draws_its_fields_as_ours(client, manager):
    client.force_login(manager)
    page = client.get("/accounts/password/change/")
    assert text(page).count('<div class="field">') == 3
    assert "ana@example.org" in text(page)


@pytest.mark.parametrize(
    ("address", "status", "heading"),
    [
        ("/nowhere/", 404, "There is nothing here"),
        ("/forbidden/", 403, "Your role does not allow this"),
        ("/unreadable/", 400, "That request could not be read"),
        ("/broken/", 500, "Something broke on our side"),
    ],
)
def test_what_went_wrong_is_said_in_our_frame(client, address, status, heading):
    page = client.get(address)
    assert page.status_code == status
    assert main_heading(page) == heading
    assert 'class="wordmark"' in text(page)


def test_a_refusal_shows_the_reason_it_was_given(client):
    assert "This needs a planting manager." in text(client.get("/forbidden/"))


def test_a_form_without_its_mark_is_refused_kindly(manager):
    strict = Client(enforce_csrf_checks=True)
    page = strict.post("/accounts/login/", {"login": "ana@example.org", "password": PASSWORD})
    assert page.status_code == 403
    assert main_heading(page) == "This form has grown too old"


def test_the_frame_has_a_skip_link_one_main_and_the_revision(client):
    html = text(client.get("/plain/"))
    assert 'href="#content"' in html
    assert html.count("<main") == 1
    assert "Figures as of revision 4212." in html
    assert '<a href="/sites/">Sites</a>' in html


def test_the_frame_hands_htmx_a_token_only_when_someone_is_signed_in(client, manager):
    assert 'name="csrf-token"' not in text(client.get("/plain/"))
    client.force_login(manager)
    assert 'name="csrf-token"' in text(client.get("/plain/"))


def test_the_frame_shows_only_the_places_it_was_given_and_marks_the_current_one():
    nav = [
        {"url": "/a/", "label": "Sites", "current": True},
        {"url": "/b/", "label": "Stock", "current": False},
    ]
    html = render_to_string("base.html", {"nav": nav, "user": SimpleNamespace(is_authenticated=False)})
    assert '<a href="/a/" aria-current="page">Sites</a>' in html
    assert '<a href="/b/">Stock</a>' in html
    assert "Rounds" not in html


@pytest.mark.parametrize(("is_demo", "shown"), [(True, 1), (False, 0)])
def test_demo_data_is_called_invented_on_every_page(is_demo, shown):
    html = render_to_string("base.html", {"organisation": SimpleNamespace(is_demo=is_demo, name="Hill")})
    assert html.count("Invented demo data") == shown


class SiteForm(forms.Form):
    name = forms.CharField(label="Name of the site", help_text="As people there call it.")
    pattern = forms.ChoiceField(
        label="Pattern", choices=[("r", "Rows")], widget=forms.RadioSelect, required=False
    )
    settled = forms.BooleanField(label="Tenure is settled", required=False)


def form_html(form: forms.Form) -> str:
    return render_to_string("partials/form.html", {"form": form, "submit": "Save", "csrf_token": "token"})


def test_each_field_has_its_label_help_and_error_tied_to_it():
    html = form_html(SiteForm({"name": ""}))
    assert '<label for="id_name">Name of the site</label>' in html
    assert 'aria-describedby="id_name_helptext id_name_error"' in html
    assert 'id="id_name_helptext"' in html
    assert 'id="id_name_error"' in html
    assert 'aria-invalid="true"' in html


def test_the_error_summary_links_to_each_field():
    assert '<a href="#id_name">Name of the site: This field is required.</a>' in form_html(
        SiteForm({"name": ""})
    )


def test_a_group_of_choices_is_a_fieldset_and_a_tick_box_stands_before_its_words():
    html = form_html(SiteForm())
    assert re.search(r'<fieldset class="field">\s*<legend>Pattern', html)
    assert html.count('id="id_pattern"') == 1, "an error's link must lead to one place"
    assert re.search(r'<label for="id_settled"><input type="checkbox"[^>]*> Tenure is settled', html)


def test_what_need_not_be_filled_in_is_called_optional_and_what_must_is_not():
    html = form_html(SiteForm())
    assert html.count("(optional)") == 1


def test_the_browser_leaves_checking_to_us():
    assert "novalidate" in form_html(SiteForm())


def test_no_field_has_a_placeholder(client):
    assert "placeholder" not in text(client.get("/accounts/login/"))


def test_a_form_in_order_has_no_error_summary():
    assert "error-summary" not in form_html(SiteForm({"name": "Upper"}))


def test_long_work_asks_again_until_it_is_done():
    job = SimpleNamespace(state="running", title="Reading counts", done_steps=3, total_steps=12)
    html = render_to_string("partials/progress.html", {"job": job, "url": "/jobs/1/"})
    assert 'hx-get="/jobs/1/"' in html
    assert '<progress max="12" value="3"' in html
    job.state = "done"
    html = render_to_string("partials/progress.html", {"job": job, "url": "/jobs/1/"})
    assert "hx-get" not in html
    assert "Done." in html
