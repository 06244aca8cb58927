"""What killed the trees: assigned by a lead beside the signs, told on every page that leads to refilling."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection

from monitoring.models import LossCause
from monitoring.selectors.loss_causes import losses_seen
from monitoring.services import rebuild, summaries
from monitoring.services.loss_causes import assign_cause, withdraw_cause
from monitoring.services.orders_from_needs import draft_from_needs
from projects.access import member_actor
from projects.errors import Refusal
from projects.models import HistoryEntry
from projects.services import log
from projects.services.orders import cancel_order
from tests import factories
from tests.field_log.visits import correction, item, line, visit_body
from tests.results.conftest import address, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead(ben):
    return member_actor(ben)


@pytest.fixture
def poor(hillside):
    """The block in which half the trees died: 61 dead stems seen, six signs noted."""
    return hillside.blocks[1]


@pytest.fixture
def assign(lead, hillside, poor):
    def act(cause="frost", **told):
        return assign_cause(actor=lead, survey_round=hillside.survey_round, block=poor, cause=cause, **told)

    return act


def page_of(hillside, block) -> str:
    return address("loss_causes", round=hillside.survey_round.uid, uid=block.uid)


# --- the record ----------------------------------------------------------------------------
def test_a_lead_assigns_a_cause_with_who_when_and_history(assign, lead, hillside):
    row = assign(share=Decimal("0.6"), note="  three cold nights ")
    assert (row.assigned_by, row.assigned_on.isoformat()) == (lead.person, "2026-11-01")
    assert (row.share, row.note, row.species, row.withdrawn_at) == (
        Decimal("0.6"),
        "three cold nights",
        None,
        None,
    )
    entry = HistoryEntry.objects.get(subject_uid=row.uid)
    assert (entry.verb, entry.reason, entry.subject_label) == (
        "loss_cause.added",
        "three cold nights",
        "Block 02, frost",
    )


def test_a_cause_taken_back_stays_in_the_record_and_can_be_assigned_anew(assign, lead):
    row = assign()
    withdraw_cause(actor=lead, cause=row)
    withdraw_cause(actor=lead, cause=row)
    row.refresh_from_db()
    assert row.withdrawn_at is not None
    assert HistoryEntry.objects.filter(subject_uid=row.uid, verb="loss_cause.withdrawn").count() == 1
    assign()
    assert LossCause.objects.count() == 2


def test_a_cause_stands_once_for_a_block_and_once_for_each_species(assign, oak):
    assign()
    assign(species=oak)
    for told in ({}, {"species": oak}):
        with pytest.raises(Refusal, match="assigned already") as refused:
            assign(**told)
        assert refused.value.field == "cause"
    assert LossCause.objects.count() == 2


def test_shares_of_one_loss_add_up_to_all_of_it_at_most(assign, lead, oak):
    first = assign(share=Decimal("0.7"))
    assign("browsing", share=Decimal("0.3"))
    with pytest.raises(Refusal, match=r"hold 100\s% of these losses, which leaves 0\s%") as refused:
        assign("fire", share=Decimal("0.01"))
    assert refused.value.field == "share"
    assign("fire", share=Decimal("0.9"), species=oak)  # the losses of a species are shared out by themselves
    assign("drought")  # without a share
    withdraw_cause(actor=lead, cause=first)
    assign("flooding", share=Decimal("0.7"))


@pytest.mark.parametrize("share", ["0", "-0.1", "1.01"])
def test_a_share_is_of_what_was_lost(assign, share):
    with pytest.raises(Refusal, match="from 1 to 100 %") as refused:
        assign(share=Decimal(share))
    assert refused.value.field == "share"


def test_a_cause_is_of_the_block_the_round_and_a_species_planted_there(assign, hillside, lead, hill, poor):
    with pytest.raises(Refusal, match="not planted in the block") as refused:
        assign(species=factories.species("alnus-glutinosa"))
    assert refused.value.field == "species"
    elsewhere = factories.block(hill, hillside.project, poor.site)
    with pytest.raises(Refusal, match="does not survey the block"):
        assign_cause(actor=lead, survey_round=hillside.survey_round, block=elsewhere, cause="frost")


def test_another_cause_says_which_and_nonsense_is_refused(assign):
    with pytest.raises(Refusal, match="what the cause was") as refused:
        assign("other", note=" ")
    assert refused.value.field == "note"
    assert assign("other", note="salt from the road").note == "salt from the road"
    assert assign("not_known").cause == "not_known"
    with pytest.raises(Refusal) as refused:
        assign("meteor")
    assert refused.value.field == "cause"


def test_neither_volunteers_nor_funders_nor_strangers_assign_or_withdraw(
    assign, vera, fred, olaf, hillside, poor
):
    row = assign()
    for member in (vera, fred):
        with pytest.raises(PermissionDenied):
            assign_cause(
                actor=member_actor(member), survey_round=hillside.survey_round, block=poor, cause="fire"
            )
        with pytest.raises(PermissionDenied):
            withdraw_cause(actor=member_actor(member), cause=row)
    with pytest.raises(Refusal, match="another organisation"):
        assign_cause(actor=member_actor(olaf), survey_round=hillside.survey_round, block=poor, cause="fire")
    with pytest.raises(Refusal, match="another organisation"):
        withdraw_cause(actor=member_actor(olaf), cause=row)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_people_at_once_do_not_share_out_more_than_all(hillside, lead, poor):
    if connection.vendor != "postgresql":
        pytest.skip("needs PostgreSQL")

    def act(cause):
        try:
            assign_cause(
                actor=lead, survey_round=hillside.survey_round, block=poor, cause=cause, share=Decimal("0.6")
            )
        except Refusal as refusal:
            return refusal.code
        finally:
            connection.close()
        return "stored"

    with ThreadPoolExecutor(4) as people:
        came = sorted(people.map(act, ("frost", "fire", "drought", "flooding")))
    assert came == ["more_than_all"] * 3 + ["stored"]


def test_a_cause_moves_no_figure_and_a_rebuild_leaves_it(assign, hillside, hill):
    before = rebuild.rebuild(hill).digest
    row = assign(share=Decimal("0.6"))
    assert rebuild.rebuild(hill).digest == before
    row.refresh_from_db()
    assert (row.cause, row.share) == ("frost", Decimal("0.60"))


# --- what was seen -------------------------------------------------------------------------
def test_losses_are_summed_by_mark_and_sign(hillside, poor):
    seen = losses_seen(hillside.survey_round, poor).whole
    assert (seen.dead_stem, seen.empty_spot, seen.not_found, seen.signs) == (61, 0, 0, [("bitten", 6)])


def test_each_species_stands_alone_and_losses_without_a_stem_apart(make_hillside, hill):
    made = make_hillside(1, 2)
    birch = factories.species("betula-pubescens")
    made.baselines[1] = factories.baseline(made.plots[1], birch, 20)
    made.send([10], 0, dead_stem=4, empty_spot=5, signs={"bitten": 1, "pulled": 3})
    made.send([12], 1, dead_stem=8, signs={"bitten": 4})
    seen = losses_seen(made.survey_round, made.blocks[0])
    told = [(row.species, row.dead_stem, row.empty_spot, row.not_found, row.signs) for row in seen.species]
    assert told == [
        ("Betula pubescens", 8, 0, 0, [("bitten", 4)]),
        ("Quercus robur", 4, 5, 1, [("pulled", 3), ("bitten", 1)]),
    ]
    assert seen.whole.signs == [("bitten", 5), ("pulled", 3)]
    assert (seen.whole.lost, seen.without_stem) == (18, 6)


def test_a_corrected_count_is_told_once_and_as_corrected(hillside, poor):
    """Plot 2-1 had 11 dead stems and a bitten one; looked at again, 13 with two frost-blackened."""
    plot, baseline = hillside.plots[6], hillside.baselines[6]
    again = line(baseline, 7, dead_stem=13, signs={"frost_blackened": 2})
    told = visit_body(plot, hillside.survey_round, [again]) | {"visit": str(plot.visits.get().root)}
    body, new_id = correction(told)
    log.append_items(hillside.actor, [item(body, id=new_id)])
    seen = losses_seen(hillside.survey_round, poor).whole
    assert (seen.dead_stem, seen.signs) == (63, [("bitten", 5), ("frost_blackened", 2)])


# --- pages ---------------------------------------------------------------------------------
def test_the_page_shows_signs_and_what_they_rest_on_takes_a_cause_and_takes_it_back(
    signed_in, ben, hillside, poor
):
    client, where = signed_in(ben), page_of(hillside, poor)
    text = words(client.get(where))
    assert "What killed them in Block 02?" in text
    assert "The signs rest on 61 dead stems seen." in text
    assert "None yet for this round." in text
    sent = {"cause": "frost", "share": "60", "note": "<b>cold</b> hollow"}
    answer = client.post(where, sent, follow=True)
    assert "&lt;b&gt;cold&lt;/b&gt;" in answer.content.decode()
    assert "frost (about 60 % of the losses)" in words(answer)
    assert "field_lead of hill, 1 November 2026" in words(answer)
    row = LossCause.objects.get()
    answer = client.post(address("cause_withdraw", uid=row.uid), follow=True)
    assert "The record keeps that it was assigned" in words(answer)
    assert "frost (about" not in words(answer)


@pytest.mark.parametrize(
    ("sent", "field", "said"),
    [
        ({}, "cause", "Choose a cause"),
        ({"cause": "meteor"}, "cause", "Select a valid choice"),
        ({"cause": "frost", "share": "many"}, "share", "Write a percentage"),
        ({"cause": "frost", "share": "0"}, "share", "from 1 to 100 %"),
        ({"cause": "frost", "share": "140"}, "share", "between 0 and 100"),
        ({"cause": "frost", "species": "999999"}, "species", "Select a valid choice"),
        ({"cause": "other"}, "note", "what the cause was"),
    ],
)
def test_bad_input_is_said_at_its_field_and_nothing_typed_is_lost(
    signed_in, ben, hillside, poor, sent, field, said
):
    typed = {"note": "a late frost" if field != "note" else ""}
    answer = signed_in(ben).post(page_of(hillside, poor), typed | sent)
    assert answer.status_code == 422
    assert any(said in error for error in answer.context["form"].errors[field])
    assert typed["note"] in words(answer)
    assert not LossCause.objects.exists()


def test_only_blocks_of_the_round_have_the_page(signed_in, ben, vera, olaf, hillside, poor, hill):
    other = factories.block(hill, hillside.project, poor.site)
    assert signed_in(ben).get(page_of(hillside, other)).status_code == 404
    assert signed_in(vera).get(page_of(hillside, poor)).status_code == 403
    assert signed_in(olaf).get(page_of(hillside, poor).replace("/hill/", "/other/")).status_code == 404


def test_needs_lead_with_the_cause_or_say_that_none_is_assigned(signed_in, ben, assign, hillside, poor):
    client = signed_in(ben)
    before = words(client.get(address("need_list")))
    assert "No cause assigned yet: refilling without a cause repeats the loss. Say what killed them" in before
    assert page_of(hillside, poor) in client.get(address("need_list")).content.decode()
    assign(share=Decimal("0.6"), note="three cold nights")
    after = words(client.get(address("need_list")))
    assert "No cause assigned yet" not in after
    told = "frost (about 60 % of the losses) : three cold nights field_lead of hill, 1 November 2026"
    assert told in after
    assert after.index(told) < after.index("bitten 6 100 %")  # the cause leads, the signs follow
    assert "These counts rest on 61 dead stems seen" in after


def test_a_cause_of_an_earlier_round_is_named_and_does_not_stand_for_this_one(
    signed_in, ben, assign, hillside, poor
):
    row = assign()
    before = factories.survey_round(
        hillside.project, [hillside.plots[6]], name="The year before", opens_on=date(2024, 9, 1)
    )
    LossCause.objects.filter(pk=row.pk).update(round=before)
    text = words(signed_in(ben).get(address("need_list")))
    assert "Assigned in earlier rounds: frost, The year before." in text
    assert "No cause assigned yet" in text


def test_a_draft_order_says_the_cause_or_that_there_is_none(assign, actor, lead, poor, oak):
    order = draft_from_needs(actor=actor, block=poor)
    assert order.reason.endswith("No cause of the losses was assigned.")
    cancel_order(actor=actor, order=order, reason="to find the cause first")
    assign(share=Decimal("0.6"))
    withdrawn = assign("fire")
    assign("stock_condition", species=oak)
    withdraw_cause(actor=lead, cause=withdrawn)
    order = draft_from_needs(actor=actor, block=poor)
    assert order.reason.replace("\u00a0", " ").endswith(
        "Cause of the losses, as assigned: frost (about 60 % of the losses); Quercus robur: condition of the stock."
    )


def test_the_round_names_causes_to_all_and_the_way_to_assign_to_staff(signed_in, ben, fred, assign, hillside):
    where = address("round_detail", uid=hillside.survey_round.uid)
    assert "Block 02 : no cause assigned yet · What killed them here?" in words(signed_in(ben).get(where))
    assign(note="seen on the ground")
    text = words(signed_in(fred).get(where))
    assert "Block 02 : frost" in text
    assert "What killed them here?" not in text
    assert "seen on the ground" not in text
    assert "Block 01 : " not in text  # it meets its target


def test_a_summary_freezes_the_causes_of_blocks_that_fall_short(signed_in, fred, actor, assign, hillside):
    season = hillside.survey_round.season
    first = summaries.make_summary(actor=actor, project=hillside.project, season=season)
    assert [row["causes"] for row in first.rows["causes"]] == [[]]
    assign(share=Decimal("0.6"))
    second = summaries.make_summary(actor=actor, project=hillside.project, season=season)
    client = signed_in(fred)
    told = [words(client.get(address("summary_detail", uid=one.uid))) for one in (first, second)]
    assert "Block 02, no cause assigned." in told[0]
    assert "Block 02, frost (about 60 % of the losses)." in told[1]
    assert "Since edition 1: plots, causes, costs or plans changed" in told[1]


def test_an_edition_from_before_causes_still_opens(signed_in, fred, actor, hillside):
    edition = summaries.make_summary(
        actor=actor, project=hillside.project, season=hillside.survey_round.season
    )
    del edition.rows["causes"]
    type(edition).objects.filter(pk=edition.pk).update(rows=edition.rows)
    text = words(signed_in(fred).get(address("summary_detail", uid=edition.uid)))
    assert "Why blocks fall short" not in text
