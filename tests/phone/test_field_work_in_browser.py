"""Field work on the phone against the service itself: recorded without signal, kept over a reload, sent once."""

import hashlib
import io
import os
from contextlib import suppress
from pathlib import Path

import pytest
from PIL import Image

from monitoring.services import passes
from projects.models import CareTask, LotCheck, Paper, StoredFile, Submission, Walk
from tests.phone.conftest import Phone

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FIRST_RELEASE = """([pass, round, plot]) => new Promise((done, fail) => {
  const asked = indexedDB.open(`tallygrove-field-${pass}`, 1);
  asked.onupgradeneeded = () => {
    asked.result.createObjectStore('items', { keyPath: 'id' }).createIndex('by_state', ['state', 'due_at']);
    asked.result.createObjectStore('drafts', { keyPath: 'key' }).put({ key: `${round}:${plot}`, plot, round });
    asked.result.createObjectStore('kept');
  };
  asked.onsuccess = () => { asked.result.close(); done(); };
  asked.onerror = fail;
})"""  # the on-phone database as phones have it that were enrolled before there was field work
LOOK = Path(__file__).with_name("look.js").read_text()


@pytest.fixture
def task(hill, block):
    return CareTask.objects.create(
        organisation=hill, block=block, kind="water", what="Water the oaks", amount_unit="l"
    )


@pytest.fixture
def crew(playwright_api, live_server, tmp_path, actor, survey_round, plots, project, task):
    issued = passes.issue(
        actor=actor, rounds=[survey_round], projects=[project], person_name="A volunteer", valid_days=30
    )
    made = Phone(playwright_api, tmp_path / "profile", live_server.url)
    made.go()
    made.page.evaluate(FIRST_RELEASE, [str(issued.field_pass.uid), str(survey_round.uid), str(plots[0].uid)])
    made.enrol(issued.code)
    yield made
    with suppress(Exception):
        made.context.close()


def from_a_camera(tmp_path: Path) -> str:
    """A large picture that says where it was taken, as cameras write them."""
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (40.0, 30.0, 44.0), 3: "W", 4: (7.0, 6.0, 4.0)})
    exif[0x010F] = "Some camera"
    drawn = Image.frombytes("RGB", (200, 150), os.urandom(200 * 150 * 3)).resize((2400, 1800))
    drawn.save(tmp_path / "roots.jpg", exif=exif)
    return str(tmp_path / "roots.jpg")


def wrong(crew, *measures: str) -> list:
    """Return what gloves, sun and a narrow screen find wrong with the screen that is open."""
    crew.page.set_viewport_size({"width": 320, "height": 700})
    crew.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    return [crew.page.evaluate(f"(() => {{ {LOOK}; return {one}(); }})()") for one in measures]


def test_plants_checked_walked_and_cared_for_without_signal_arrive_once_with_the_picture(
    crew, lot, block, task, tmp_path
):
    page = crew.page
    page.wait_for_selector(
        "a.row:has-text('N1'):has-text('begun')"
    )  # what the first release kept is still there
    crew.context.set_offline(True)
    crew.press("Check plants at hand-over")
    crew.press("24-117")
    crew.see("24-117")
    page.fill("#counted", "480")
    page.fill("#box_temperature_c", "1,5")
    page.check("#root_condition-moist")
    page.set_input_files("#photo", from_a_camera(tmp_path))
    page.wait_for_selector("text=The picture is saved on this phone.")
    assert wrong(crew, "sidewaysScroll", "smallTargets", "paleText", "unlabelled", "smallKeys") == [[]] * 5
    crew.press("Save on this phone")
    page.wait_for_selector("text=Choose: accept, hold or reject.")
    page.reload()  # what was typed is kept, the picture with it
    crew.see("24-117")
    page.wait_for_selector("canvas[height='120']")
    assert page.input_value("#counted") == "480"
    page.check("#verdict")
    crew.press("Save on this phone")
    crew.see("Saved on this phone")
    page.wait_for_selector(
        "text=Not sent yet. It will be sent when there is signal. · 1 picture still to send"
    )

    crew.go("#/blocks")
    crew.press("North slope")
    crew.press("Something seen")
    page.select_option("#sign-0", "fence")
    page.fill("#where-0", "north gate")
    assert wrong(crew, "sidewaysScroll", "smallTargets", "paleText", "unlabelled") == [[]] * 4
    crew.press("Save on this phone")
    crew.see("Saved on this phone")
    crew.go("#/tasks")
    crew.press("Water the oaks")
    page.fill("#amount", "110")
    assert wrong(crew, "sidewaysScroll", "smallTargets", "paleText", "unlabelled") == [[]] * 4
    crew.press("Done: save")
    crew.see("Saved on this phone")
    crew.go("#/")
    assert wrong(crew, "sidewaysScroll", "smallTargets", "paleText") == [[]] * 3
    crew.status("3 to send · 1 picture still to send")
    assert (Submission.objects.count(), StoredFile.objects.count()) == (0, 0)

    crew.context.set_offline(False)
    crew.status("nothing to send")
    check, walk = LotCheck.objects.get(), Walk.objects.get()
    assert (check.lot, check.counted, check.box_temperature_c, check.root_condition, check.verdict) == (
        lot, 480, 1.5, "moist", "accept",
    )  # fmt: skip
    assert [(sign.sign, sign.where) for sign in walk.sightings.all()] == [("fence", "north gate")]
    task.refresh_from_db()
    assert (task.amount, task.done_on is not None, Submission.objects.count()) == (110, True, 3)
    stored = StoredFile.objects.get()
    assert Paper.objects.get(check_of_lot=check).sha256 == stored.sha256
    content = bytes(stored.content)
    assert hashlib.sha256(content).hexdigest() == stored.sha256
    with Image.open(io.BytesIO(content)) as picture:
        assert (picture.size, dict(picture.getexif())) == ((1600, 1200), {})
    assert [line for line in crew.console if "Content Security" in line or line.startswith("error")] == []
