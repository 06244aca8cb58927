"""Price lists: a line added, changed, put away; a whole list read in, its problems by line; what holds today."""

from datetime import date

import pytest
from django.urls import reverse

from projects.calc.price_list_text import BadPriceList, Vocabulary, read_price_list
from projects.errors import Refusal
from projects.models import HistoryEntry, StockOffer
from projects.selectors.offers import cheapest, current_offers
from projects.services import nurseries, offers
from tests import factories

WORDS = Vocabulary(
    {"bare-root": "bare_root", "direct seed": "direct_seed"}, {"tree": "tree"}, "EUR", {"UGX": 0}
)
DAY = date(2026, 11, 1)


def faults(text):
    with pytest.raises(BadPriceList) as caught:
        read_price_list(text, WORDS)
    return [(row.line, row.column, row.code) for row in caught.value.problems]


def test_a_list_is_read_whatever_parts_its_cells_and_in_any_order():
    for sign, price in (("\t", "0,62"), (";", "0,62"), (",", "0.62")):
        text = f"\n{sign.join(('Price', 'Stock type', 'SPECIES', 'until', 'how many'))}\n" + sign.join(
            (price, "Bare root", "Quercus robur", "31.12.2026", "12 000")
        )
        (line,) = read_price_list(text, WORDS)
        assert (line.line, line.species, line.stock_type) == (3, "Quercus robur", "bare_root")
        assert (line.unit_price_minor, line.currency, line.on_offer) == (62, "EUR", 12000)
        assert line.valid_until == date(2026, 12, 31)


def test_an_amount_follows_its_own_currency():
    (line,) = read_price_list("species;stock;price;currency\nOak;bare-root;5000;ugx", WORDS)
    assert (line.unit_price_minor, line.currency) == (5000, "UGX")
    assert faults("species;stock;price;currency\nOak;bare-root;50.5;UGX") == [(2, "price", "too_fine")]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", [(0, "", "nothing")]),
        ("species;stock;price", [(0, "", "nothing")]),
        ("species;price\nOak;1", [(1, "stock_type", "no_column")]),
        ("species;stock;price;colour\nOak;bare-root;1;red", [(1, "", "unknown_heading")]),
        ("species;stock;price;name\nOak;bare-root;1;Oak", [(1, "species", "heading_twice")]),
        ("species;stock;price\n;bare-root;", [(2, "species", "empty"), (2, "price", "empty")]),
        ("species;stock;price\nOak;bonsai;-1", [(2, "stock_type", "not_a_stock_type"), (2, "price", "not_an_amount")]),
        ("species;stock;price;weeks\nOak;bare-root;1;521", [(2, "lead_time_weeks", "too_large")]),
        ("species;stock;price;fewest\nOak;bare-root;1;2.5", [(2, "least_quantity", "not_a_count")]),
        ("species;stock;price;from\nOak;bare-root;1;2026-02-30", [(2, "valid_from", "not_a_day")]),
        ("species;stock;price;from\nOak;bare-root;1;99999999999999999999-01-01", [(2, "valid_from", "not_a_day")]),
        ("species;stock;price\n" + "a" * 140_000 + ";bare-root;1", [(0, "", "cannot_be_parted")]),
        ("species;stock;price;currency\nOak;bare-root;1;€", [(2, "currency", "not_a_currency")]),
        ("species;stock;price\n" + "Oak;bare-root;1\n" * 501, [(0, "", "too_many")]),
    ],
)  # fmt: skip
def test_every_fault_names_its_line(text, found):
    assert faults(text) == found


@pytest.fixture
def offer(actor, nursery, oak):
    return offers.make_offer(
        actor=actor, nursery=nursery, species=oak, stock_type="bare_root", unit_price_minor=62, on_offer=9000,
        least_quantity=500,
    )  # fmt: skip


def address(name, row):
    return reverse(f"projects:{name}", kwargs={"org": "hill", "uid": row.uid})


FIELDS = {
    "stock_type": "container",
    "unit": "tree",
    "unit_price": "0,98",
    "currency": "eur",
    "least_quantity": "100",
}


def test_a_line_is_added_on_the_nursery_page(signed_in, ana, nursery, oak):
    browser = signed_in(ana)
    answer = browser.post(address("offer_new", nursery), FIELDS | {"species": oak.pk}, follow=True)
    row = StockOffer.objects.get()
    assert (row.unit_price_minor, row.currency, row.weeks_to_wait) == (98, "EUR", 10)
    text = answer.content.decode()
    assert "EUR\xa00.98" in text and "10 weeks" in text and "not limited" in text
    assert list(HistoryEntry.objects.values_list("verb", flat=True).filter(subject_uid=row.uid)) == [
        "stock_offer.made"
    ]


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("unit_price", "cheap", "such as 12.50"),
        ("unit_price", "", "required"),
        ("unit_price", "-1", "cannot be negative"),
        ("unit", "seed_spot", "every other stock type by the tree"),
        ("least_quantity", "0", "Write 1 or more"),
        ("on_offer", "50", "more than there are"),
        ("lead_time_weeks", "600", "weeks, not days"),
    ],
)
def test_each_problem_is_said_at_its_field_and_nothing_is_lost(
    signed_in, ana, nursery, oak, field, value, words
):
    shown_at = "least_quantity" if field == "on_offer" else field
    answer = signed_in(ana).post(address("offer_new", nursery), FIELDS | {"species": oak.pk, field: value})
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[shown_at][0]
    assert 'value="100"' in answer.content.decode() or field == "least_quantity"
    assert not StockOffer.objects.exists()


def test_a_line_is_changed_put_away_and_brought_back(signed_in, ana, offer):
    browser = signed_in(ana)
    page = browser.get(address("offer_edit", offer)).content.decode()
    assert 'value="0.62"' in page
    browser.post(address("offer_edit", offer), FIELDS | {"species": offer.species_id, "unit_price": "0.70"})
    offer.refresh_from_db()
    assert (offer.unit_price_minor, offer.stock_type) == (70, "container")
    browser.post(address("offer_archive", offer))
    assert current_offers(offer.organisation, DAY) == []
    browser.post(address("offer_archive", offer), {"restore": "yes"})
    assert current_offers(offer.organisation, DAY) == [offer]


def test_a_list_with_problems_names_them_and_keeps_the_text(signed_in, ana, nursery, oak):
    text = "species;stock type;price\nQuercus nowhere;bare-root;1\nQuercus robur;bare-root;2\nquercus robur;Bare-root;3"
    answer = signed_in(ana).post(address("price_list_read", nursery), {"lines": text})
    assert answer.status_code == 422
    said = answer.context["form"].errors["lines"]
    assert said[0].startswith("Line 2: no species is called “Quercus nowhere”")
    assert "Line 4 says the same as line 3" in said[1]
    assert "Quercus nowhere;bare-root;1" in answer.content.decode()
    assert not StockOffer.objects.exists()


def test_a_list_read_twice_changes_nothing_and_a_whole_list_puts_the_rest_away(
    signed_in, ana, offer, nursery
):
    factories.species("betula-pendula")
    browser = signed_in(ana)
    text = "species;stock type;price;fewest\nQuercus robur;bare-root;0.65;500\nBetula pendula;bare-root;0.40;"
    browser.post(address("price_list_read", nursery), {"lines": text})
    assert sorted(StockOffer.objects.values_list("unit_price_minor", flat=True)) == [40, 65]
    before = HistoryEntry.objects.count()
    browser.post(address("price_list_read", nursery), {"lines": text})
    assert (StockOffer.objects.count(), HistoryEntry.objects.count()) == (2, before)
    browser.post(
        address("price_list_read", nursery),
        {"lines": "species;stock type;price\nBetula pendula;bare-root;0.40", "replaces": "on"},
    )
    assert [row.unit_price_minor for row in current_offers(nursery.organisation, DAY)] == [40]
    page = browser.get(address("nursery_detail", nursery)).content.decode()
    assert "price list read" in page and "Bring back into use" in page


@pytest.mark.parametrize("content", [b"\xff\xfe\x00bad", b"species;stock;price\nOak\x00;bare-root;1"])
def test_a_file_that_is_not_text_is_refused(signed_in, ana, nursery, content):
    from django.core.files.uploadedfile import SimpleUploadedFile

    sent = {"file": SimpleUploadedFile("list.csv", content)}
    answer = signed_in(ana).post(address("price_list_read", nursery), sent)
    assert "not text" in answer.context["form"].errors["file"][0]


def test_a_lead_reads_a_price_list_but_does_not_write_it(signed_in, ben, offer, nursery):
    browser = signed_in(ben)
    page = browser.get(address("nursery_detail", nursery)).content.decode()
    assert "EUR\xa00.62" in page and "Add to the price list" not in page
    for name, row in (("offer_new", nursery), ("price_list_read", nursery), ("offer_edit", offer)):
        assert browser.get(address(name, row)).status_code == 403


def test_what_holds_on_a_day(actor, nursery, oak, offer):
    kind = {
        "actor": actor,
        "nursery": nursery,
        "species": oak,
        "stock_type": "container",
        "unit_price_minor": 90,
    }
    offers.make_offer(**kind, valid_from=date(2026, 11, 2))
    offers.make_offer(**kind, valid_until=date(2026, 10, 31))
    today = offers.make_offer(**kind, valid_from=DAY, valid_until=DAY, lead_time_weeks=3)
    found = current_offers(actor.organisation, DAY)
    assert found == [offer, today]
    assert [row.weeks_to_wait for row in found] == [10, 3]
    nurseries.archive_nursery(actor=actor, nursery=nursery)
    assert current_offers(actor.organisation, DAY) == []


def test_the_cheapest_is_sought_in_one_currency_only(actor, nursery, oak, offer):
    kind = {"actor": actor, "nursery": nursery, "species": oak, "stock_type": "bare_root"}
    foreign = offers.make_offer(**kind, unit_price_minor=5, currency="KES")
    cheap = offers.make_offer(**kind, unit_price_minor=60)
    rows = current_offers(actor.organisation, DAY)
    assert cheapest(rows, "EUR") == {(oak.pk, "bare_root"): cheap}
    assert cheapest(rows, "KES") == {(oak.pk, "bare_root"): foreign}


def test_offers_cost_one_query_however_many(actor, nursery, oak, django_assert_num_queries):
    for number in range(20):
        offers.make_offer(
            actor=actor, nursery=nursery, species=oak, stock_type="bare_root", unit_price_minor=number
        )
    with django_assert_num_queries(1):
        assert (
            len([(row.species.slug, row.weeks_to_wait) for row in current_offers(actor.organisation, DAY)])
            == 20
        )


def test_offers_of_another_organisation_are_refused(actor, other, oak):
    theirs = factories.lot(other, oak).nursery
    with pytest.raises(Refusal):
        offers.make_offer(
            actor=actor, nursery=theirs, species=oak, stock_type="bare_root", unit_price_minor=1
        )
