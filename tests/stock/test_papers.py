"""Papers and pictures: what is taken, what is refused, what a picture no longer says, who downloads it."""

import io
from datetime import date

import pytest
from django.core.exceptions import PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image, PngImagePlugin

from projects.access import member_actor
from projects.documents.pictures import BadPicture, plain_picture
from projects.errors import Refusal
from projects.models import CareTask, HistoryEntry, Paper, StockLot, StockOrder, StoredFile
from projects.selectors.papers import papers_of
from projects.services import papers
from tests import factories

PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\n%%EOF\n"
SECRET = b"taken by somebody"


def photo(size=(2400, 1200), kind="JPEG", *, orientation=1, colour="green"):
    """A picture that says where, when and with what it was taken."""
    image, held = Image.new("RGB", size, colour), io.BytesIO()
    if kind == "PNG":
        said = PngImagePlugin.PngInfo()
        said.add_text("Author", SECRET.decode())
        image.save(held, "PNG", pnginfo=said)
        return held.getvalue()
    exif = Image.Exif()
    exif[0x010F], exif[0x0112] = SECRET.decode(), orientation
    exif.get_ifd(0x8825).update({1: "N", 2: (40.0, 21.0, 3.0), 3: "W", 4: (7.0, 5.0, 1.0)})
    image.save(held, "JPEG", exif=exif, comment=SECRET, xmp=b"<x:xmpmeta>" + SECRET + b"</x:xmpmeta>")
    return held.getvalue()


@pytest.fixture
def lot(hill, oak):
    return factories.lot(hill, oak, code="24-010")


@pytest.fixture
def order(hill, project):
    return StockOrder.objects.create(organisation=hill, project=project, reference="A-7")


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_picture_is_kept_small_and_without_what_the_camera_added(actor, lot, kind):
    handed_in = photo(kind=kind)
    assert SECRET in handed_in
    paper = papers.attach(actor=actor, subject=lot, upload=handed_in, kind="photo")
    stored = StoredFile.objects.get(sha256=paper.sha256)
    content = bytes(stored.content)
    assert (stored.media_type, stored.size_bytes) == ("image/jpeg", len(content))
    kept = Image.open(io.BytesIO(content))
    assert kept.size == (1600, 800)
    assert not kept.getexif()
    assert SECRET not in content
    assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}


def test_a_picture_taken_on_its_side_stands_upright():
    image = Image.open(io.BytesIO(plain_picture(photo(size=(300, 100), orientation=6))))
    assert image.size == (100, 300)


def test_what_a_picture_leaves_open_becomes_white():
    held = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(held, "PNG")
    assert Image.open(io.BytesIO(plain_picture(held.getvalue()))).getpixel((10, 10)) == (255, 255, 255)


def test_a_damaged_or_enormous_picture_is_refused(monkeypatch):
    for content in (photo()[:400], b"\x89PNG\r\n\x1a\n" + b"x" * 50, b"\xff\xd8\xff"):
        with pytest.raises(BadPicture, match="broken"):
            plain_picture(content)
    held = io.BytesIO()
    Image.new("1", (6000, 5000)).save(held, "PNG")
    with pytest.raises(BadPicture, match="too_large"):
        plain_picture(held.getvalue())


@pytest.mark.parametrize("tag", [0x0100, 0x011A])
def test_a_picture_whose_camera_wrote_words_for_a_number_is_refused_in_words(actor, lot, tag):
    exif, held = Image.Exif(), io.BytesIO()
    exif[0x0112], exif[0x010F] = 6, "cam"
    Image.new("RGB", (30, 20)).save(held, "JPEG", exif=exif)
    told = held.getvalue().replace(b"\x01\x0f\x00\x02", tag.to_bytes(2) + b"\x00\x02")
    assert told != held.getvalue()
    with pytest.raises(Refusal, match="damaged"):
        papers.attach(actor=actor, subject=lot, upload=told, kind="photo")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "Only PDF, JPEG and PNG"),
        (b"MZ not a paper", "Only PDF, JPEG and PNG"),
        (b" %PDF-1.7", "Only PDF, JPEG and PNG"),
        (b"", "empty"),
        (b"%PDF-" + b"0" * (5 * 2**20), "larger than 5 MB"),
        (b"\xff\xd8\xffnothing", "damaged"),
    ],
)
def test_what_is_no_paper_is_refused_with_what_to_do(actor, order, content, words):
    with pytest.raises(Refusal, match=words) as caught:
        papers.attach(actor=actor, subject=order, upload=content, kind="invoice")
    assert caught.value.field == "upload"
    assert not Paper.objects.exists()
    assert not StoredFile.objects.exists()


def test_the_same_bytes_are_kept_once_and_attached_once_to_a_record(actor, order, lot, hill):
    papers.attach(actor=actor, subject=order, upload=PDF, kind="order")
    papers.attach(actor=actor, subject=lot, upload=PDF, kind="seed_certificate", number="C-12")
    assert (Paper.objects.count(), StoredFile.objects.count()) == (2, 1)
    with pytest.raises(Refusal, match="attached here already"):
        papers.attach(actor=actor, subject=lot, upload=PDF, kind="other")
    papers.void(actor=actor, paper=lot.papers.get(), reason="wrong lot")
    papers.attach(actor=actor, subject=lot, upload=PDF, kind="other")
    assert lot.papers.count() == 2


def test_history_tells_of_a_paper_without_what_is_typed_on_it(actor, lot):
    paper = papers.attach(
        actor=actor, subject=lot, upload=PDF, kind="invoice", title="for Maria", number="77"
    )
    papers.void(actor=actor, paper=paper, reason="another lot's")
    entries = list(HistoryEntry.objects.filter(subject_uid=lot.uid).order_by("id"))
    assert [entry.verb for entry in entries] == ["stock_lot.paper_added", "stock_lot.paper_taken_back"]
    assert not any("Maria" in str(entry.change) for entry in entries)
    assert f"invoice {paper.sha256[:8]}" in str(entries[0].change)


def test_a_paper_is_taken_back_only_with_a_reason(actor, lot):
    paper = papers.attach(actor=actor, subject=lot, upload=PDF, kind="invoice")
    with pytest.raises(Refusal, match="why the paper is taken back"):
        papers.void(actor=actor, paper=paper, reason=" ")
    assert Paper.objects.get().voided_at is None


def test_a_paper_of_another_organisation_and_a_day_to_come_are_refused(actor, order, oak):
    theirs = factories.lot(factories.organisation("far"), oak)
    with pytest.raises(Refusal, match="another organisation"):
        papers.attach(actor=actor, subject=theirs, upload=PDF, kind="invoice")
    with pytest.raises(Refusal, match="not come yet"):
        papers.attach(actor=actor, subject=order, upload=PDF, kind="invoice", issued_on=date(2999, 1, 1))


def test_a_lead_adds_papers_of_lots_and_reads_those_of_orders(signed_in, ben, actor, order, lot):
    browser = signed_in(ben)
    send = {"upload": SimpleUploadedFile("scan.pdf", PDF), "kind": "plant_passport", "number": "=PP 1"}
    assert browser.post(reverse("projects:lot_paper_new", args=["hill", lot.uid]), send).status_code == 302
    assert browser.get(reverse("projects:order_paper_new", args=["hill", order.uid])).status_code == 403
    paper = papers.attach(actor=actor, subject=order, upload=PDF, kind="order")
    assert browser.get(reverse("projects:paper_file", args=["hill", paper.uid])).status_code == 200
    void = reverse("projects:paper_void", args=["hill", paper.uid])
    assert browser.post(void, {"reason": "no"}).status_code == 403
    assert Paper.objects.get(pk=paper.pk).voided_at is None


def test_a_file_is_handed_out_to_be_saved_and_never_shown_as_a_page(signed_in, ana, actor, lot):
    paper = papers.attach(
        actor=actor,
        subject=lot,
        upload=PDF,
        kind="seed_certificate",
        title='a"b\r\nSet-Cookie: x',
        number="9/4",
    )
    answer = signed_in(ana).get(reverse("projects:paper_file", args=["hill", paper.uid]))
    assert answer.content == PDF
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == 'attachment; filename="seed-certificate-ab-set-cookie-x-94.pdf"'


def test_a_refused_file_loses_nothing_that_was_typed(signed_in, ana, lot):
    send = {"upload": SimpleUploadedFile("a.exe", b"MZ"), "kind": "invoice", "title": "of spring"}
    answer = signed_in(ana).post(reverse("projects:lot_paper_new", args=["hill", lot.uid]), send)
    assert answer.status_code == 422
    assert "of spring" in answer.content.decode()
    assert "Only PDF, JPEG and PNG" in answer.context["form"].errors["upload"][0]


def test_papers_of_many_records_are_read_in_two_queries(
    actor, order, lot, oak, hill, django_assert_num_queries
):
    others = [factories.lot(hill, oak, code=f"24-{n}", nursery=lot.nursery) for n in range(3)]
    for subject in (order, lot, *others):
        papers.attach(actor=actor, subject=subject, upload=PDF, kind="order")
    Paper.objects.filter(lot=lot).update(sha256="f" * 64)  # told of by a phone whose picture is still to come
    subjects = [order, *StockLot.objects.filter(organisation=hill)]
    with django_assert_num_queries(2):
        found = papers_of(actor, subjects)
    assert [row.file is None for row in found] == [False, True, False, False, False]
    assert [row.subject_words for row in found][:2] == ["the order", "lot 24-010"]


def test_a_body_announced_far_too_large_is_not_taken(signed_in, ana, lot):
    url = reverse("projects:lot_paper_new", args=["hill", lot.uid])
    send = {"upload": SimpleUploadedFile("a.pdf", b"%PDF-" + b"0" * (6 * 2**20)), "kind": "invoice"}
    answer = signed_in(ana).post(url, send)
    assert answer.status_code == 413
    assert not StoredFile.objects.exists()


def test_a_paper_that_was_taken_back_is_handed_out_no_more(signed_in, ana, actor, lot):
    paper = papers.attach(actor=actor, subject=lot, upload=PDF, kind="invoice")
    browser, url = signed_in(ana), reverse("projects:paper_file", args=["hill", paper.uid])
    assert browser.get(url).status_code == 200
    browser.post(reverse("projects:paper_void", args=["hill", paper.uid]), {"reason": "somebody's letter"})
    assert browser.get(url).status_code == 404


def test_who_may_not_see_orders_neither_reads_nor_adds_their_papers(actor, vera, ben, order):
    papers.attach(actor=actor, subject=order, upload=PDF, kind="invoice")
    assert len(papers_of(member_actor(ben), [order])) == 1
    assert papers_of(member_actor(vera), [order]) == []
    for member in (ben, vera):
        with pytest.raises(PermissionDenied):
            papers.attach(actor=member_actor(member), subject=order, upload=b"%PDF-2", kind="invoice")


def test_a_volunteer_adds_and_takes_back_papers_of_their_own_tasks_only(actor, block, vera, signed_in):
    task = CareTask.objects.create(
        organisation=block.organisation, block=block, kind="guards", what="stand up"
    )
    paper = papers.attach(actor=actor, subject=task, upload=PDF, kind="photo")
    worker = member_actor(vera)
    add = reverse("projects:care_paper_new", kwargs={"org": "hill", "uid": task.uid})
    with pytest.raises(PermissionDenied):
        papers.void(actor=worker, paper=paper, reason="not mine")
    with pytest.raises(PermissionDenied):
        papers.attach(actor=worker, subject=task, upload=b"%PDF-2", kind="photo")
    assert [row.may_take_back for row in papers_of(worker, [task])] == [False]
    assert signed_in(vera).get(add).status_code == 403
    task.assigned_to = worker.person
    task.save()
    papers.attach(actor=worker, subject=task, upload=b"%PDF-2", kind="photo")
    assert all(row.may_take_back for row in papers_of(worker, [task]))
    assert signed_in(vera).get(add).status_code == 200
