"""The phone form in a real browser: what the screen calls saved is never lost, and what it calls sent has arrived."""

import json
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

PASS_1 = "01990000-0000-7000-8000-00000000aa01"


def test_two_plots_counted_offline_arrive_once_after_closing_and_reopening(phone, field_server):
    phone.enrol()
    phone.context.set_offline(True)
    phone.count("Plot 1", 20, 7)
    phone.press("Next plot")
    phone.count("Plot 4", 22)
    phone.status("2 to send")
    phone.context.close()
    phone.open(offline=True)
    phone.go()
    phone.see("Plots to count")
    phone.status("2 to send")
    assert field_server.bodies() == []
    phone.context.set_offline(False)
    phone.status("nothing to send")
    bodies = field_server.bodies()
    assert sorted(body["lines"][0]["alive"] for body in bodies) == [20, 22]
    assert field_server.state()["requests"] == 1


def test_an_open_count_survives_the_browser_being_killed(phone):
    phone.enrol()
    phone.start_count("Plot 1")
    phone.page.fill("#field-line-0-alive", "19")
    phone.page.fill("#note", "fence down")
    phone.page.wait_for_timeout(300)
    phone.kill()
    phone.open(offline=True)
    phone.go()
    phone.press("Plot 1")
    phone.press("Go on counting")
    assert phone.page.input_value("#field-line-0-alive") == "19"
    assert phone.page.input_value("#note") == "fence down"


def test_a_saved_count_survives_the_browser_being_killed_at_once(phone, field_server):
    phone.enrol()
    phone.context.set_offline(True)
    phone.count("Plot 1", 20, 7)
    phone.kill()
    phone.open()
    phone.go()
    phone.status("1 to send")
    phone.enrol()  # the browser had not written its cookies yet, so the pass is asked for again
    phone.status("nothing to send")
    assert [body["lines"][0]["alive"] for body in field_server.bodies()] == [20]


def test_unsafe_is_one_tap(phone, field_server):
    phone.enrol()
    phone.press("Plot 1")
    phone.press("Unsafe, not visited")
    phone.see("Saved on this phone")
    phone.status("nothing to send")
    [body] = field_server.bodies()
    assert (body["status"], body["reason"], body["lines"]) == ("missing", "unsafe", [])


def test_a_lost_reply_is_sent_again_and_stored_once(phone, field_server):
    phone.enrol()
    field_server.fails(mode="lost_reply")
    phone.count("Plot 1", 20, 7)
    phone.status("1 to send")
    phone.go("#/outbox")
    phone.press("Send now")
    phone.status("nothing to send")
    assert len(field_server.bodies()) == 1
    assert field_server.state()["requests"] >= 2


def test_a_wifi_sign_in_page_is_not_taken_for_an_answer(phone, field_server):
    phone.enrol()
    field_server.fails(mode="portal")
    phone.count("Plot 1", 20, 7)
    phone.page.wait_for_selector("text=Not sent yet")
    phone.go("#/outbox")
    phone.press("Send now")
    phone.page.wait_for_selector("text=perhaps a Wi-Fi sign-in page")
    phone.status("1 to send · nothing sent yet")
    field_server.fails(mode="")
    phone.press("Send now")
    phone.status("nothing to send · last sent")


def test_a_refused_count_is_listed_with_the_servers_words_and_can_be_corrected(phone, field_server):
    phone.enrol()
    field_server.fails(mode="reject")
    phone.count("Plot 1", 20, 7)
    phone.status("1 needs help")
    phone.page.wait_for_selector("text=The plot is not known.")
    field_server.fails(mode="")
    phone.go("#/outbox")
    phone.press("Correct this answer")
    phone.see("Plot 1")
    phone.press("Correct this answer")
    assert phone.page.input_value("#field-line-0-alive") == "20"
    phone.page.fill("#field-line-0-alive", "21")
    phone.press("Check your answers")
    phone.see("Check your answers")
    phone.press("Save on this phone")
    phone.page.wait_for_selector(r"text=/^Sent \d/")
    [body] = field_server.bodies()
    assert (body["parents"], body["lines"][0]["alive"]) == ([], 21)
    phone.status("nothing to send")


def test_a_correction_of_a_sent_count_names_its_parent(phone, field_server):
    phone.enrol()
    phone.count("Plot 1", 20, 7)
    phone.page.wait_for_selector(r"text=/^Sent \d/")
    phone.press("Look at this plot or correct it")
    phone.press("Correct this answer")
    phone.page.click('button[aria-controls="field-line-0-alive"][aria-label^="One less"]')
    phone.press("Check your answers")
    phone.see("Check your answers")
    phone.press("Save on this phone")
    phone.page.wait_for_selector(r"text=/^Sent \d/")
    first, second = field_server.bodies()
    assert (second["visit"], second["parents"]) == (first["visit"], [first["visit"]])
    assert second["lines"][0]["alive"] == 19


def test_losing_the_pass_asks_for_a_code_and_keeps_the_queue(phone, field_server):
    phone.enrol()
    field_server.fails(ended=[PASS_1])
    phone.count("Plot 1", 20, 7)
    phone.page.wait_for_selector("text=Not signed in")
    phone.status("1 to send")
    phone.go("#/outbox")
    phone.press("Enter a code")
    phone.page.fill("#code", "test code 01")
    phone.page.click('button:text-is("Open")')
    phone.status("nothing to send")
    assert len(field_server.bodies()) == 1


def test_another_pass_neither_sees_nor_sends_the_first_ones_counts(phone, field_server):
    phone.enrol()
    field_server.fails(mode="busy")
    phone.count("Plot 1", 20, 7)
    phone.status("1 to send")
    phone.go("#/leave")
    phone.page.wait_for_selector("text=1 count is not on the server yet")
    phone.press("Sign off and leave them here")
    phone.see("Open your field pass")
    field_server.fails(mode="")
    phone.enrol("TEST-CODE-02")
    phone.status("nothing to send")
    phone.page.wait_for_timeout(500)
    assert field_server.bodies() == []
    phone.go("#/leave")
    phone.press("Sign off")
    phone.see("Open your field pass")
    phone.enrol("TEST-CODE-01")
    phone.status("nothing to send")
    assert len(field_server.bodies()) == 1


def test_two_tabs_send_each_count_once(phone, field_server):
    phone.enrol()
    phone.context.set_offline(True)
    for plot, alive in (("Plot 1", (20, 7)), ("Plot 4", (22,))):
        phone.go()
        phone.count(plot, *alive)
    second = phone.context.new_page()
    second.goto(f"{field_server.address}/field/#/outbox")
    second.wait_for_selector('h1:has-text("Sending")')
    phone.context.set_offline(False)
    phone.status("nothing to send")
    second.wait_for_selector('a.status:has-text("nothing to send")')
    assert len(field_server.bodies()) == 2
    assert field_server.state()["requests"] == 1


def test_the_unsent_file_holds_the_very_items(phone):
    phone.enrol()
    phone.context.set_offline(True)
    phone.count("Plot 1", 20, 7)
    phone.go("#/outbox")
    with phone.page.expect_download() as download:
        phone.press("Save unsent counts to a file")
    content = json.loads(Path(download.value.path()).read_text())
    assert content["format"] == "tallygrove-unsent/1"
    assert [json.loads(item["body"])["lines"][0]["alive"] for item in content["items"]] == [20]


def test_a_new_release_waits_for_the_tap_and_for_the_open_count(phone, field_server):
    phone.enrol()
    phone.page.reload()
    phone.start_count("Plot 1")
    before = phone.page.get_attribute("html", "data-release")
    field_server.fails(release="next")
    phone.page.evaluate("navigator.serviceWorker.getRegistration('/field/').then((one) => one.update())")
    phone.page.click('.notices button:has-text("Update")')
    phone.page.wait_for_selector("text=Save the open count or put it aside first")
    assert phone.page.get_attribute("html", "data-release") == before
    phone.press("Put aside and go back")
    phone.page.click('.notices button:has-text("Update")')
    phone.page.wait_for_selector('html[data-release^="next"]', state="attached")  # asks for no evaluation
    phone.see("Plot 1")
    assert phone.page.get_attribute("html", "data-release").startswith("next")


def test_an_address_without_tls_says_that_it_cannot_keep_counts(phone):
    phone.page.goto(phone.address.replace("127.0.0.1", "grove.test") + "/field/#code=TEST-CODE-01")
    phone.see("This address cannot keep counts")
    assert "https://" in phone.page.inner_text("main")
    assert phone.page.query_selector("input") is None


def test_the_code_is_gone_from_the_address_bar(phone):
    phone.go("#code=TEST-CODE-01")
    phone.see("Open your field pass")
    assert "code=" not in phone.page.evaluate("location.href")
    assert phone.page.input_value("#code") == "TEST-CODE-01"


def test_a_wrong_code_is_explained_and_kept(phone):
    phone.go("#code=WRONG-CODE")
    phone.page.click('button:text-is("Open")')
    phone.page.wait_for_selector("text=This code is not known")
    assert phone.page.input_value("#code") == "WRONG-CODE"


LOOK = Path(__file__).with_name("look.js").read_text()
OPEN_ALL = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"


def wrong(phone, measure: str) -> list:
    """Return what one of the measures of look.js finds wrong on this screen."""
    return phone.page.evaluate(f"(() => {{ {LOOK}; return {measure}(); }})()")


@pytest.mark.parametrize("language", ["en", "pt", "sw"])
def test_gloves_and_sun_large_targets_strong_contrast_no_sideways_scroll(phone, language):
    phone.enrol()
    for plot in ("Plot 3", "Plot 4"):
        phone.go()
        phone.start_count(plot)
    uids = phone.page.evaluate("location.hash").split("/")[2:]
    phone.go("#/help")
    phone.page.select_option("#language", language)
    phone.page.wait_for_selector(f'html[lang="{language}"]')
    places = [
        "#/",
        "#/outbox",
        "#/help",
        "#/leave",
        "#/enrol",
        f"#/plot/{'/'.join(uids)}",
        f"#/count/{'/'.join(uids)}",
    ]
    for place in places:
        phone.go(place)
        phone.page.wait_for_timeout(250)
        phone.page.evaluate(OPEN_ALL)
        for width, size in ((280, "100%"), (320, "100%"), (320, "200%")):
            phone.page.set_viewport_size({"width": width, "height": 800})
            phone.page.evaluate(f"document.documentElement.style.fontSize = '{size}'")
            where = f"{language} {place} {width} px {size}"
            for measure in ("sidewaysScroll", "smallTargets", "paleText"):
                assert wrong(phone, measure) == [], f"{where} {measure}"
        phone.page.evaluate("document.documentElement.style.fontSize = ''")


def test_every_field_has_a_visible_label_and_the_keys_are_64_px(phone):
    phone.enrol()
    phone.start_count("Plot 3")
    phone.page.evaluate(OPEN_ALL)
    assert (wrong(phone, "unlabelled"), wrong(phone, "smallKeys")) == ([], [])


def test_the_strict_content_policy_is_never_broken(phone):
    phone.enrol()
    phone.count("Plot 1", 20, 7)
    for place in ("#/outbox", "#/help", "#/leave", "#/enrol"):
        phone.go(place)
    assert [line for line in phone.console if "Content Security" in line or line.startswith("error")] == []
