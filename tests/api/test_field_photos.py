"""Pictures of records from phones: kept once by their digest, whole JPEGs without a place, named by a record."""

import base64
import hashlib
import io

import pytest
from django.test import Client
from PIL import Image

from projects.models import Paper, StoredFile
from tests import factories
from tests.api.conftest import problem

pytestmark = pytest.mark.django_db
PHOTOS = "/api/v1/field/photos"


def picture(colour: str = "green", size: tuple[int, int] = (64, 48), **saving) -> bytes:
    held = io.BytesIO()
    Image.new("RGB", size, colour).save(held, "JPEG", **saving)
    return held.getvalue()


def with_place() -> bytes:
    """A picture as a camera writes it that knows where it is."""
    exif = Image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (40.0, 30.0, 44.0), 3: "W", 4: (7.0, 6.0, 4.0)})
    return picture(exif=exif)


@pytest.fixture
def named(hill, lot):
    """Let a record name some bytes, as an item does that arrived before its picture."""

    def name(content: bytes) -> bytes:
        sha256 = hashlib.sha256(content).hexdigest()
        Paper.objects.create(organisation=hill, kind="photo", sha256=sha256, lot=lot)
        return content

    return name


def post(client: Client, content: bytes, *, of: bytes | None = None, **headers):
    digest = base64.b64encode(hashlib.sha256(content if of is None else of).digest()).decode()
    headers = {"Content-Digest": f"sha-256=:{digest}:"} | headers
    return client.post(PHOTOS, content, content_type="image/jpeg", headers=headers)


def test_a_named_picture_is_kept_byte_for_byte_and_once(phone, named, hill):
    content = named(picture())
    first, again = post(phone, content), post(phone, content)
    sha256 = hashlib.sha256(content).hexdigest()
    assert first.json() == {"sha256": sha256, "outcome": "stored"}
    assert again.json() == {"sha256": sha256, "outcome": "already"}
    row = StoredFile.objects.get()
    assert (bytes(row.content), row.sha256, row.media_type) == (content, sha256, "image/jpeg")
    assert (row.size_bytes, row.organisation) == (len(content), hill)


def test_a_picture_no_record_names_waits_for_its_record(phone, named, other):
    content = picture("brown")
    problem(post(phone, content), 400, "picture_unnamed")
    sha256 = hashlib.sha256(content).hexdigest()
    theirs = factories.lot(other, factories.species())
    Paper.objects.create(organisation=other, kind="photo", sha256=sha256, lot=theirs)
    problem(post(phone, content), 400, "picture_unnamed")  # another organisation's record is not ours
    assert post(phone, named(content)).status_code == 200


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not_a_picture"),
        (b"\xff\xd8\xff\xd9", "not_a_picture"),
        (picture()[:-40], "not_a_picture"),
        (picture() + b"<script>alert(1)</script>", "not_a_picture"),  # something rides along
        (picture(size=(4100, 4100), quality=1), "too_large"),
        (with_place(), "carries_place"),
        (picture(comment=b"<x:xmpmeta exif:GPSLatitude='40,30.7N'/>"), "carries_place"),
    ],
    ids=["svg", "empty", "cut_off", "polyglot", "too_many_dots", "exif_place", "xmp_place"],
)
def test_what_is_no_plain_picture_is_refused_with_its_code(phone, named, content, code):
    refused = problem(post(phone, named(content)), 400, code)
    assert refused["errors"][0]["detail"] == refused["detail"]
    assert not StoredFile.objects.exists()


def test_damage_on_the_way_and_a_missing_digest_are_told_apart(phone, named):
    content = named(picture())
    problem(post(phone, content[:-1], of=content), 400, "digest_differs")
    for header in ("", "sha-256=:short:", "md5=:AAAA:"):
        problem(post(phone, content, **{"Content-Digest": header}), 400, "digest_missing")
    assert not StoredFile.objects.exists()


def test_size_and_kind_are_bounded_before_anything_is_read(phone, named):
    large = named(picture()[:-2] + b"\0" * (2 * 2**20) + b"\xff\xd9")
    assert problem(post(phone, large), 413, "too_large")["detail"].startswith("Send at most 2048 KiB")
    sent = phone.post(PHOTOS, {"picture": "no"}, content_type="application/json")
    problem(sent, 415, "unsupported_media_type")


def test_who_may_not_count_may_not_send_pictures(signed_in, fred, named):
    content = named(picture())
    problem(post(Client(), content), 401, "not_signed_in")
    problem(post(signed_in(fred), content), 403, "forbidden")
    strict = Client(enforce_csrf_checks=True)
    strict.cookies["tg_field"] = "no such phone"
    problem(post(strict, content), 401, "pass_unknown")


def test_bytes_changed_anywhere_are_refused_or_kept_but_never_our_mistake(phone, named):
    whole = picture(exif=Image.Exif())
    for place in range(2, len(whole) - 2, 41):
        changed = named(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :])
        assert post(phone, changed).status_code in (200, 400)
