"""The frame in a real browser, under the content policy the service sends."""

import json
import os
import shutil

import pytest

CHROMIUM = (
    os.environ.get("TALLYGROVE_CHROMIUM")
    or shutil.which("chromium")
    or shutil.which("chromium-browser")
    or shutil.which("google-chrome")
)
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

pytestmark = [
    pytest.mark.browser,
    pytest.mark.urls("tests.look.urls_frame"),
    pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed"),
]


@pytest.fixture(scope="module")
def browser(playwright_api):
    chromium = playwright_api.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield chromium
    chromium.close()


@pytest.fixture
def page(browser):
    """A page that remembers every complaint of the browser and every address it asked for."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.complaints, page.asked = [], []
    page.on("console", lambda message: page.complaints.append(message.text))
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("request", lambda request: page.asked.append(request.url))
    yield page
    page.close()


def test_a_full_page_obeys_the_content_policy_and_asks_nobody_else(page, live_server):
    answer = page.goto(f"{live_server.url}/sample/")
    assert "script-src 'self'" in answer.headers["content-security-policy"]
    page.locator(".map[data-edit] .leaflet-control-scale").wait_for()
    page.locator(".map[data-edit] path.shape-block").wait_for()
    assert page.complaints == []
    assert [url for url in page.asked if not url.startswith((live_server.url, "data:"))] == []


@pytest.mark.parametrize("width", [280, 320, 390, 1280])
def test_no_page_scrolls_sideways(page, live_server, width):
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(f"{live_server.url}/sample/")
    page.locator(".map[data-edit] .leaflet-control-scale").wait_for()
    wide, seen = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide <= seen


def test_what_one_taps_is_large_enough_for_a_thumb(page, live_server):
    page.goto(f"{live_server.url}/sample/")
    page.locator("[data-map-tools]").wait_for()
    boxes = page.locator(
        "button:not(.as-link):visible, a.button:visible, .leaflet-bar a:visible, input:visible"
    )
    sizes = [boxes.nth(n).bounding_box() for n in range(boxes.count())]
    assert len(sizes) > 6
    assert [size for size in sizes if size["height"] < 43.5 or size["width"] < 43.5] == []


def test_a_boundary_is_drawn_by_taps_alone_and_posted_as_geojson(page, live_server):
    page.goto(f"{live_server.url}/sample/")
    page.locator("[data-map-tools]").wait_for()
    for x, y in [(60, 60), (300, 60), (300, 250)]:
        page.locator(".map[data-edit]").click(position={"x": x, "y": y})
    page.get_by_role("button", name="Close the boundary").click()
    drawn = json.loads(page.locator("#id_boundary").input_value())
    ring = drawn["coordinates"][0]
    assert drawn["type"] == "Polygon"
    assert len(ring) == 4
    assert ring[0] == ring[-1]
    assert "closed" in page.locator("[data-map-status]").inner_text()


def test_taking_back_opens_the_boundary_and_starting_again_empties_it(page, live_server):
    page.goto(f"{live_server.url}/sample/")
    page.locator("[data-map-tools]").wait_for()
    for x, y in [(60, 60), (300, 60), (300, 250)]:
        page.locator(".map[data-edit]").click(position={"x": x, "y": y})
    page.get_by_role("button", name="Close the boundary").click()
    page.get_by_role("button", name="Take back").click()
    assert page.locator("#id_boundary").input_value() == ""
    assert "3" in page.locator("[data-map-status]").inner_text()
    page.get_by_role("button", name="Start again").click()
    assert "Tap the corners" in page.locator("[data-map-status]").inner_text()


def test_a_name_on_the_map_is_shown_as_text_never_as_markup(page, live_server):
    page.goto(f"{live_server.url}/sample/")
    page.locator("[data-map-tools]").wait_for()
    page.locator(".map:not([data-edit]) path.shape-block").click()
    assert page.locator(".leaflet-popup-content a").inner_text() == "<b>North</b>"


def test_a_refused_form_brings_the_person_to_what_is_wrong(page, live_server):
    page.goto(f"{live_server.url}/sample/")
    page.get_by_role("button", name="Three things to decide").click()
    page.locator(".error-summary").wait_for()
    assert page.evaluate("document.activeElement.className") == "error-summary"
    page.get_by_role("link", name="Name of the site").click()
    assert page.evaluate("document.activeElement.id") == "id_name"


def test_the_keyboard_reaches_the_page_past_the_navigation_first(page, live_server):
    page.goto(f"{live_server.url}/sample/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_without_script_the_page_says_how_to_go_on(browser, live_server):
    page = browser.new_page(java_script_enabled=False)
    page.goto(f"{live_server.url}/sample/")
    assert page.locator("noscript").last.inner_text().startswith("The map needs JavaScript; paste")
    assert not page.locator("[data-map-tools]").is_visible()
    assert page.locator("#id_boundary").is_visible()
    page.close()
