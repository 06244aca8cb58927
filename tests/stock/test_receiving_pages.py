"""The pages of deliveries, looks, splits and giving out: plain forms that lose nothing that was typed."""

from datetime import date
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from projects import figures, models
from projects.identifiers import uuid7
from projects.services import lot_checks, lot_splits
from tests import factories


def address(name, row=None):
    return reverse(f"projects:{name}", kwargs={"org": "hill"} | ({"uid": row.uid} if row else {}))


@pytest.fixture
def order(hill, project, nursery, oak):
    order = models.StockOrder.objects.create(
        organisation=hill, project=project, nursery=nursery, status="placed", reference="O-1"
    )
    for number in (900, 400):
        models.OrderLine.objects.create(
            organisation=hill, order=order, species=oak, stock_type="bare_root", quantity=number
        )
    return order


def typed(order, rows=2, **lots):
    lines = list(order.lines.order_by("id"))
    told = {
        "uid": str(uuid7()),
        "rows": str(rows),
        "delivered_on": "2024-02-01",
        "note_number": "N7",
        "carrier": "Van",
    }
    for at in range(rows):
        told[f"lot{at}-line"] = str(lines[at].uid) if at < len(lines) else ""
    return told | {name.replace("__", "-"): value for name, value in lots.items()}


FULL = {
    "lot0__code": "24-200",
    "lot0__counted": "880",
    "lot0__stated": "900",
    "lot0__lifted_on": "2024-01-30",
}


def test_an_order_is_received_in_one_form_and_its_empty_rows_are_left_out(signed_in, ben, order):
    browser = signed_in(ben)
    page = browser.get(address("order_receive", order))
    assert page.status_code == 200
    assert [row.initial["line"] for row in page.context["rows"]] == [
        str(line.uid) for line in order.lines.all()
    ]
    answer = browser.post(address("order_receive", order), typed(order, **FULL))
    delivery = models.Delivery.objects.get()
    assert answer["Location"] == address("delivery_detail", delivery)
    lot = models.StockLot.objects.get()
    assert (lot.received, lot.stated, lot.order_line.quantity, lot.unit) == (880, 900, 900, "tree")
    seen = browser.get(answer["Location"]).content.decode()
    assert "20 missing" in seen and "N7" in seen and "Van" in seen
    assert "N7" in browser.get(address("delivery_list")).content.decode()
    rest = browser.get(address("order_receive", order)).context["waited_for"]
    assert [(row.line.quantity, row.progress.to_come) for row in rest] == [(900, 20), (400, 400)]


def test_another_lot_is_a_row_more_with_all_that_was_typed(signed_in, ben, order):
    told = typed(order, more="1", **FULL | {"lot1__certificate": "C9"})
    page = signed_in(ben).post(address("order_receive", order), told)
    assert page.status_code == 200
    assert len(page.context["rows"]) == 3
    text = page.content.decode()
    assert all(
        f'value="{words}"' in text for words in ("24-200", "880", "N7", "C9", "2024-01-30", told["uid"])
    )
    assert 'name="rows" value="3"' in text
    assert not models.Delivery.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "at", "field"),
    [
        ({"lot0__counted": "many"}, 0, "counted"),
        ({"lot1__counted": "5"}, 1, "code"),
        ({"lot1__code": "24-200", "lot1__counted": "5"}, 1, "code"),
        ({"lot2__code": "b", "lot2__counted": "5"}, 2, "species"),
        ({"lot0__stock_type": "direct_seed"}, None, None),
    ],
)
def test_a_wrong_row_is_named_and_nothing_is_lost(signed_in, ben, order, wrong, at, field):
    told = typed(order, rows=3, **FULL | wrong)
    answer = signed_in(ben).post(address("order_receive", order), told)
    if at is None:  # something else came instead: that is told, not refused
        assert models.StockLot.objects.get().unit == "seed_spot"
        return
    assert answer.status_code == 422
    assert [number for number, row in enumerate(answer.context["rows"]) if row.errors] == [at]
    assert field in answer.context["rows"][at].errors
    assert 'value="N7"' in answer.content.decode()
    assert not models.Delivery.objects.exists() and not models.StockLot.objects.exists()


@pytest.mark.parametrize("rows", ["", "-3", "²"])
def test_a_number_of_rows_nobody_typed_breaks_nothing(signed_in, ben, order, rows):
    answer = signed_in(ben).post(address("order_receive", order), typed(order, **FULL) | {"rows": rows})
    assert answer.status_code == 422


def test_what_came_without_an_order_names_its_nursery(signed_in, ana, nursery, oak, order):
    browser = signed_in(ana)
    told = {
        "uid": str(uuid7()), "rows": "1", "delivered_on": "2024-02-01", "lot0-code": "w1", "lot0-counted": "30",
        "lot0-species": oak.slug, "lot0-stock_type": "wildling",
    }  # fmt: skip
    answer = browser.post(address("delivery_new"), told)
    assert "nursery" in answer.context["head"].errors
    browser.post(address("delivery_new"), told | {"nursery": str(nursery.uid)})
    lot = models.StockLot.objects.get()
    assert (lot.code, lot.delivery.order, lot.stock_type) == ("w1", None, "wildling")
    page = browser.post(
        address("delivery_edit", lot.delivery), {"note_number": "N1", "carrier": "Mule", "note": ""}
    )
    assert page.status_code == 302
    assert "Mule" in browser.get(address("delivery_detail", lot.delivery)).content.decode()


def picture():
    stream = BytesIO()
    Image.new("RGB", (8, 8), "green").save(stream, "JPEG")
    return SimpleUploadedFile("roots.jpg", stream.getvalue(), "image/jpeg")


LOOK = {
    "point": "arrival", "checked_on": "2024-02-02", "checked_time": "09:30", "root_condition": "drying",
    "box_temperature_c": "4,5", "sample_size": "40", "sample_bad": "3", "heights_cm": "30 32,5 28",
    "collars_mm": "5 5 4", "shoot_dry_g": "3.5", "root_dry_g": "1.5",
}  # fmt: skip


def test_a_look_is_suggested_upon_before_it_is_kept(signed_in, ben, lot):
    browser = signed_in(ben)
    page = browser.post(address("lot_check", lot), LOOK | {"look": "1"})
    text = page.content.decode()
    assert page.status_code == 200 and not models.LotCheck.objects.exists()
    assert "The readings suggest: hold" in text
    assert "4.5 °C in the box, above 2.2 °C" in text and "roots drying" in text
    answer = browser.post(
        address("lot_check", lot), LOOK | {"verdict": "hold", "photos": [picture(), picture()][:1]}
    )
    assert answer["Location"] == address("lot_detail", lot)
    check = models.LotCheck.objects.get()
    assert check.because.startswith("roots drying")
    assert check.checked_at.astimezone().isoformat().startswith("2024-02-02T")
    assert "Dickson quality index" in check.note
    assert check.papers.get().kind == "photo"
    shown = browser.get(address("lot_detail", lot)).content.decode()
    assert "3 of 40 not fit" in shown and "sturdiness 6.5 cm/mm" in shown and "1 picture" in shown


@pytest.mark.parametrize(
    ("typed_in", "field"),
    [
        ({"verdict": ""}, "verdict"),
        ({"heights_cm": "tall"}, "heights_cm"),
        ({"heights_cm": ""}, "root_dry_g"),
        ({"collars_mm": "5 5"}, "collars_mm"),
        ({"sample_bad": "41"}, "sample_bad"),
        ({"checked_on": "2999-01-01"}, "checked_at"),
        ({"photos": SimpleUploadedFile("roots.jpg", b"not a picture")}, "upload"),
    ],
)
def test_a_wrong_reading_is_named_and_the_rest_stays(signed_in, ben, lot, typed_in, field):
    answer = signed_in(ben).post(address("lot_check", lot), LOOK | {"verdict": "hold"} | typed_in)
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert errors.get(field) or errors["__all__"]
    assert not models.LotCheck.objects.exists()
    if field != "sample_bad":
        assert 'value="40"' in answer.content.decode()


def test_a_look_is_taken_back_from_the_page(signed_in, ben, actor, lot):
    check = lot_checks.add_check(
        actor=actor, lot=lot, point="arrival", verdict="accept", root_condition="moist"
    )
    signed_in(ben).post(address("lot_check_void", check), {"reason": "Another lot."})
    check.refresh_from_db()
    assert check.voided_at is not None


def test_a_lot_is_split_and_put_together_again_from_its_pages(signed_in, ben, lot):
    browser = signed_in(ben)
    page = browser.get(address("lot_split", lot))
    assert page.context["form"].initial["code"] == "24-117-a"
    browser.post(address("lot_split", lot), {"quantity": "300", "moved_on": "2024-02-10", "code": "24-117-a"})
    child = models.StockLot.objects.get(code="24-117-a")
    assert "24-117-a" in browser.get(address("lot_detail", lot)).content.decode()
    told = {"lots": [str(child.uid)], "moved_on": "2024-02-11", "code": "all"}
    assert browser.post(address("lot_merge", lot), {**told, "lots": []}).status_code == 422
    answer = browser.post(address("lot_merge", lot), told)
    merged = models.StockLot.objects.get(code="all")
    assert answer["Location"] == address("lot_detail", merged)
    seen = browser.get(address("lot_detail", merged)).content.decode()
    assert f"{figures.quantity(1000)} came over from other lots" in seen
    assert browser.get(address("lot_edit", merged)).status_code == 200


@pytest.fixture
def farms(hill, project, site):
    block = factories.block(hill, project, site, name="Farms", layout="holdings")
    return [
        models.Holding.objects.create(organisation=hill, block=block, label=f"Farm {n}", trees_received=n)
        for n in (40, 12, 25)
    ]


def test_a_lot_is_given_out_to_a_list_once_however_often_the_form_is_sent(signed_in, ben, lot, farms):
    browser = signed_in(ben)
    page = browser.get(address("lot_give_out", lot))
    form = str(page.context["form"].initial["form"])
    told = {"form": form, "moved_on": "2024-02-10", str(farms[0].uid): "40", str(farms[2].uid): "20"}
    for _ in range(2):
        assert browser.post(address("lot_give_out", lot), told).status_code == 302
    moved = models.LotMovement.objects.values_list("holding__label", "quantity", "kind")
    assert sorted(moved) == [("Farm 25", 20, "given_out"), ("Farm 40", 40, "given_out")]
    assert browser.post(address("lot_give_out", lot), told | {str(farms[0].uid): "41"}).status_code == 422
    seen = browser.get(address("lot_give_out", lot)).content.decode()
    assert seen.count("not the same: one of the two wants correcting") == 1
    sheet = browser.get(address("lot_sign_for", lot)).content.decode()
    assert "Farm 40" in sheet and "60" in sheet


@pytest.mark.parametrize("told", [{}, {"n": "-4"}, {"n": "4", "moved_on": "2999-01-01"}])
def test_giving_out_nothing_or_nonsense_is_refused_in_words(signed_in, ben, lot, farms, told):
    numbers = {str(farms[0].uid): told["n"]} if "n" in told else {}
    data = {"form": str(uuid7()), "moved_on": told.get("moved_on", "2024-02-10")} | numbers
    answer = signed_in(ben).post(address("lot_give_out", lot), data)
    assert answer.status_code == 422 and answer.context["form"].errors
    assert not models.LotMovement.objects.exists()


def test_without_a_list_of_holdings_the_page_says_how_to_get_one(signed_in, ben, lot):
    assert "No list of holdings yet" in signed_in(ben).get(address("lot_give_out", lot)).content.decode()
    assert signed_in(ben).get(address("lot_sign_for", lot)).status_code == 200


def test_a_lot_past_its_days_says_what_to_do(signed_in, ben, lot):
    models.StockLot.objects.filter(pk=lot.pk).update(lifted_on=date(2024, 1, 30))
    seen = signed_in(ben).get(address("lot_detail", lot)).content.decode()
    assert "Its days are over." in seen and "dry roots are not planted" in seen.replace("\n", " ")
    assert "7 to 10 days out of store (US Forest Service field handling pages)" in seen


def test_pages_of_lots_with_many_kin_and_looks_cost_no_more_queries(signed_in, ben, actor, lot):
    browser = signed_in(ben)
    child = lot_splits.split_lot(actor=actor, lot=lot, quantity=500, moved_on=date(2024, 2, 10), code="c")
    counts = []
    for codes in ("c0", "c1 c2 c3 c4"):
        for code in codes.split():
            lot_splits.split_lot(actor=actor, lot=child, quantity=10, moved_on=date(2024, 2, 11), code=code)
            lot_checks.add_check(
                actor=actor, lot=child, point="crew", verdict="accept", root_condition="moist"
            )
        with CaptureQueriesContext(connection) as asked:
            assert browser.get(address("lot_detail", child)).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
