"""Two years of a moving clock: each thing to decide comes on its day, stays without a gap, and goes when it is settled.

Three organisations on clocks far apart live through facts of every kind. Each stretch is written down by hand as two
instants; the list is read a minute before and after each of them, and at once after every act, before any beat.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from monitoring import models as m
from monitoring.services import reminders as of_monitoring
from projects import clocks, reminder_words
from projects.access import member_actor
from projects.identifiers import uuid7
from projects.models import CrewDay, MixLine, Plan, Reminder, ReminderSnooze
from projects.selectors.home import to_decide
from projects.services import (
    care,
    consents,
    crew_days,
    lot_checks,
    lots,
    movements,
    orders,
    planting,
    receiving,
    reminder_rows,
    reminders,
    walks,
    windows,
)
from tests import factories

MINUTE = timedelta(minutes=1)
Act = Callable[[], None]


def pass_by() -> None:
    """Nothing happens."""


@dataclass
class Stretch:
    """A thing to decide is shown from an instant on and until another."""

    kind: str
    name: str
    begins: datetime
    ends: datetime


@dataclass
class Life:
    """An organisation, what happens to it, and what its list should show."""

    zone: str
    set_clock: Callable[[datetime], None]
    acts: dict[datetime, Act] = field(default_factory=dict)
    stretches: list[Stretch] = field(default_factory=list)
    names: dict[UUID, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.set_clock(self.noon(date(2026, 1, 1)))
        slug = self.zone.lower().replace("/", "-").replace("_", "-")
        self.org = factories.organisation(slug, time_zone=self.zone)
        self.manager = factories.member(self.org, "manager")
        self.actor = member_actor(self.manager)
        self.project = factories.project(self.org)
        self.site = factories.site(self.org, time_zone=self.zone)
        self.oak = factories.species("quercus-robur")
        self.nursery = factories.p.Nursery.objects.create(organisation=self.org, name="Nursery")
        for year in (2026, 2027):
            factories.season(self.org, year=year)

    # --- time -------------------------------------------------------------------------------
    def dawn(self, day: date, zone: str = "") -> datetime:
        """The instant a day begins."""
        return datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(zone or self.zone)).astimezone(UTC)

    def noon(self, day: date) -> datetime:
        return datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo(self.zone)).astimezone(UTC)

    # --- writing a life ---------------------------------------------------------------------
    def on(self, day: date, act: Act) -> datetime:
        """Let something happen at noon; several things of a day happen minutes apart."""
        when = self.noon(day)
        while when in self.acts:
            when += 10 * MINUTE
        self.acts[when] = act
        return when

    def shows(self, kind: str, name: str, begins: datetime, ends: datetime | None = None) -> None:
        self.stretches.append(Stretch(kind, name, begins, ends or self.noon(date(2029, 1, 1))))

    def known(self, name: str, row: Any) -> Any:
        self.names[row.uid] = name
        return row

    def block(self, name: str, **fields: Any) -> Any:
        return self.known(name, factories.block(self.org, self.project, fields.pop("site", self.site)))

    def today(self) -> date:
        return clocks.today_of(self.org)

    # --- living it --------------------------------------------------------------------------
    def live(self) -> int:
        """Go through every instant that matters, and read the list there; return how many there were.

        Around midnight the beat strikes before the list is read. Around an act it does not: what the act settles is
        gone at once, and the next beat may not bring it back.
        """
        moments = {when - MINUTE: pass_by for when in self.acts} | self.acts
        edges = {edge for row in self.stretches for edge in (row.begins, row.ends)} - set(self.acts)
        moments |= {edge + apart: self.beat for edge in edges for apart in (-MINUTE, MINUTE)}
        last = self.noon(date(2027, 12, 31))
        moments = {when: act for when, act in moments.items() if when <= last} | {last: self.beat}
        for when in sorted(moments):
            self.set_clock(when)
            moments[when]()
            self.read(when)
        return len(moments)

    def beat(self) -> None:
        reminder_rows.renew(self.org)

    def read(self, when: datetime) -> None:
        rows = [item.row for item in to_decide(self.actor, self.today())]
        shown = sorted((row.kind, self.names.get(row.subject_uid, "nobody knows")) for row in rows)
        wanted = sorted((row.kind, row.name) for row in self.stretches if row.begins <= when < row.ends)
        assert shown == wanted, f"{self.zone} at {when.astimezone(ZoneInfo(self.zone))}"
        for row in rows:
            words = reminder_words.words_for(row.kind, row.facts)
            assert words["reason"], row.kind  # words that do not fit their facts fall back to none


@pytest.fixture
def set_clock(monkeypatch):
    clock = {"now": datetime(2026, 1, 1, tzinfo=UTC)}
    monkeypatch.setattr(timezone, "now", lambda: clock["now"])
    return lambda when: clock.update(now=when)


DAY = timedelta(days=1)


# --- the facts of every kind ----------------------------------------------------------------
def lots_that_wait(life: Life) -> None:
    """One planted in time, one stored and taken out again, one forgotten for weeks."""
    here: dict[str, Any] = {}
    first, second, third = date(2026, 3, 25), date(2026, 4, 1), date(2026, 9, 1)

    def receive(name: str) -> Act:
        def act() -> None:
            values = {
                "code": name, "nursery": life.nursery, "species": life.oak, "stock_type": "bare_root",
                "received_on": life.today(), "lifted_on": life.today(), "received": 100,
            }  # fmt: skip
            here[name] = life.known(name, lots.receive_lot(actor=life.actor, **values))

        return act

    def lose(name: str) -> Act:
        return lambda: movements.move(
            actor=life.actor, lot=here[name], kind="lost", quantity=100, moved_on=life.today()
        )

    def store() -> None:
        here["store"] = movements.begin_storage(
            actor=life.actor, lot=here["stored"], kind="cold_store", from_on=life.today()
        )

    def take_out() -> None:
        movements.end_storage(actor=life.actor, storage=here["store"], until_on=life.today())

    life.shows(
        "plant_by", "in time", life.on(first, receive("in time")), life.on(first + 5 * DAY, lose("in time"))
    )
    life.shows("plant_by", "stored", life.on(second, receive("stored")), life.on(second + 2 * DAY, store))
    life.shows(
        "plant_by", "stored", life.on(second + 40 * DAY, take_out), life.on(second + 43 * DAY, lose("stored"))
    )
    asked = life.dawn(third + (7 + 31) * DAY)
    life.shows("plant_by", "forgotten", life.on(third, receive("forgotten")), asked)
    life.shows("lot_left", "forgotten", asked, life.on(third + 60 * DAY, lose("forgotten")))


def lots_in_doubt(life: Life) -> None:
    """A gap that is found and explained; a lot held and looked at again."""
    lot = life.known("doubt", factories.lot(life.org, life.oak, received=100, stock_type="container"))

    def count() -> None:
        movements.count_stock(actor=life.actor, lot=lot, counted_on=life.today(), on_hand=90)

    def explain() -> None:
        movements.move(actor=life.actor, lot=lot, kind="lost", quantity=10, moved_on=life.today() - DAY)
        movements.count_stock(actor=life.actor, lot=lot, counted_on=life.today(), on_hand=90)

    def look(verdict: str) -> Act:
        return lambda: lot_checks.add_check(
            actor=life.actor, lot=lot, point="field_store", verdict=verdict, checked_at=timezone.now(),
            because="as seen",
        )  # fmt: skip

    life.shows("lot_gap", "doubt", life.on(date(2026, 5, 4), count), life.on(date(2026, 5, 20), explain))
    life.shows(
        "check_held",
        "doubt",
        life.on(date(2026, 6, 1), look("hold")),
        life.on(date(2026, 6, 9), look("accept")),
    )


def orders_and_deliveries(life: Life) -> None:
    """A draft put off and then placed; a delivery late, promised anew, late again, and come."""
    here: dict[str, Any] = {}

    def draft() -> None:
        line = orders.Line(life.oak, "container", 80)
        here["order"] = life.known("order", orders.draft_order(
            actor=life.actor, project=life.project, lines=[line], nursery=life.nursery, order_by=date(2026, 8, 1)
        ))  # fmt: skip

    def put_off() -> None:
        row = Reminder.objects.get(organisation=life.org, kind="order_by")
        reminders.snooze(actor=life.actor, reminder=row, until_on=date(2026, 7, 20))

    def promise(day: date) -> Act:
        def act() -> None:
            here["order"].refresh_from_db()
            orders.confirm_order(actor=life.actor, order=here["order"], promised_on=day)

        return act

    def receive() -> None:
        here["order"].refresh_from_db()
        came = receiving.Arrived("late lot", 80, life.oak, "container", here["order"].lines.get())
        receiving.receive_delivery(
            actor=life.actor,
            delivered_on=life.today(),
            arrived=[came],
            order=here["order"],
            nursery=life.nursery,
        )

    life.shows("order_by", "order", life.on(date(2026, 7, 1), draft), life.on(date(2026, 7, 3), put_off))
    placed = life.on(date(2026, 7, 25), lambda: orders.place_order(actor=life.actor, order=here["order"]))
    life.shows("order_by", "order", life.dawn(date(2026, 7, 20)), placed)
    life.on(date(2026, 7, 28), promise(date(2026, 9, 26)))
    anew = life.on(date(2026, 10, 1), promise(date(2026, 10, 24)))
    life.shows("late_delivery", "order", life.dawn(date(2026, 9, 27)), anew)
    life.shows("late_delivery", "order", life.dawn(date(2026, 10, 25)), life.on(date(2026, 11, 2), receive))


def care_of_a_block(life: Life) -> None:
    """Done before its window opens, put off to another month, and no longer needed."""
    block = life.block("tended")
    here: dict[str, Any] = {}

    def add(name: str, opens: date) -> Act:
        def act() -> None:
            here[name] = life.known(name, care.add_task(
                actor=life.actor, block=block, kind="weeding", what=name, due_from=opens, due_by=opens + 14 * DAY
            ))  # fmt: skip

        return act

    def finish() -> None:
        care.finish_task(actor=life.actor, task=here["early"], done_on=life.today())

    def put_off() -> None:
        care.put_off(
            actor=life.actor,
            task=here["moved"],
            because="rain",
            due_from=date(2026, 12, 5),
            due_by=date(2026, 12, 20),
        )

    def drop() -> None:
        here["moved"].refresh_from_db()
        care.drop_task(actor=life.actor, task=here["moved"], because="grazed")

    life.on(
        date(2026, 2, 1), add("early", date(2026, 4, 28))
    )  # 30 days before: where Lisbon's clock goes forward
    life.shows("care_due", "early", life.dawn(date(2026, 3, 29)), life.on(date(2026, 4, 20), finish))
    life.on(date(2026, 2, 2), add("moved", date(2026, 10, 6)))
    life.shows("care_due", "moved", life.dawn(date(2026, 9, 6)), life.on(date(2026, 10, 10), put_off))
    life.shows("care_due", "moved", life.dawn(date(2026, 11, 5)), life.on(date(2026, 12, 28), drop))


def windows_that_close(life: Life) -> None:
    """One that closes on stock that never came, one whose plan is planted in time; and the walk that follows."""
    missed, met = life.block("missed"), life.block("met")
    lot = factories.lot(life.org, life.oak, received=60, stock_type="container")
    here: dict[str, Any] = {}

    def state() -> None:
        for name, block in (("missed window", missed), ("met window", met)):
            here[name] = life.known(name, windows.state_window(
                actor=life.actor, block=block, stock_type="container", opens_on=date(2026, 11, 1),
                closes_on=date(2027, 2, 10),
            ))  # fmt: skip
        line = orders.Line(life.oak, "container", 40, block=missed)
        order = orders.draft_order(actor=life.actor, project=life.project, lines=[line], nursery=life.nursery)
        orders.place_order(actor=life.actor, order=order)
        plan = Plan.objects.create(
            organisation=life.org, project=life.project, version=1, approved_at=timezone.now()
        )
        MixLine.objects.create(
            organisation=life.org, plan=plan, block=met, species=life.oak, stock_type="container", quantity=60
        )

    def plant() -> None:
        planting.plant(actor=life.actor, block=met, lot=lot, planted_on=life.today(), quantity=60)

    def walk() -> None:
        walks.record_walk(actor=life.actor, block=met, walked_on=life.today())

    life.on(date(2026, 10, 12), state)
    life.shows("window_closing", "missed window", life.dawn(date(2027, 1, 20)), life.dawn(date(2027, 2, 11)))
    planted = life.on(date(2027, 1, 28), plant)
    life.shows("window_closing", "met window", life.dawn(date(2027, 1, 20)), planted)
    life.shows("walk_due", "met", life.dawn(date(2027, 2, 11)), life.on(date(2027, 3, 1), walk))


def walks_and_planting_days(life: Life) -> None:
    """A block nobody walks; planting days left open, one of them at a site on another clock."""
    block = life.block("unwalked")
    lot = factories.lot(life.org, life.oak, received=10, stock_type="container")
    far = "Pacific/Kiritimati" if life.zone != "Pacific/Kiritimati" else "Europe/Lisbon"
    elsewhere = life.block("elsewhere", site=factories.site(life.org, time_zone=far))
    here: dict[str, CrewDay] = {}

    def plan(name: str, where: Any, day: date) -> Act:
        def act() -> None:
            here[name] = life.known(name, crew_days.plan_day(actor=life.actor, block=where, day=day))

        return act

    def plant() -> None:
        planting.plant(actor=life.actor, block=block, lot=lot, planted_on=life.today(), quantity=10)

    def off(name: str) -> Act:
        return lambda: crew_days.call_off(actor=life.actor, crew_day=here[name], reason="rain")

    life.on(date(2027, 4, 1), plant)
    life.shows("walk_due", "unwalked", life.dawn(date(2027, 4, 15)), life.dawn(date(2027, 4, 1) + 103 * DAY))
    life.on(
        date(2027, 3, 1), plan("open day", block, date(2027, 3, 27))
    )  # the day before a clock is put forward
    life.shows(
        "crew_day_open", "open day", life.dawn(date(2027, 3, 28)), life.on(date(2027, 4, 3), off("open day"))
    )
    life.on(date(2027, 5, 1), plan("far day", elsewhere, date(2027, 5, 10)))
    life.shows(
        "crew_day_open",
        "far day",
        life.dawn(date(2027, 5, 11), far),
        life.on(date(2027, 5, 14), off("far day")),
    )
    life.on(date(2027, 6, 1), plan("no day", block, date(2027, 6, 20)))
    life.on(date(2027, 6, 10), off("no day"))


def agreements(life: Life) -> None:
    """A lease renewed before it ends, and a permit that ends with nobody caring."""

    def give(name: str, kind: str, ends: date) -> Act:
        return lambda: life.known(name, consents.add_consent(
            actor=life.actor, site=life.site, kind=kind, with_whom=f"Office {kind}", what=name,
            given_on=life.today() - DAY, expires_on=ends,
        ))  # fmt: skip

    life.on(date(2026, 1, 10), give("lease", "landholder", date(2027, 1, 23)))
    renewed = life.on(date(2026, 12, 1), give("new lease", "landholder", date(2035, 1, 1)))
    life.shows("consent_ends", "lease", life.dawn(date(2026, 10, 25)), renewed)
    life.on(date(2026, 1, 11), give("permit", "permit", date(2027, 8, 1)))
    life.shows("consent_ends", "permit", life.dawn(date(2027, 5, 3)))


def rounds_and_counts(life: Life) -> None:
    """A round to count with a doubt in it, what its figures ask for, and replacements nobody counted yet."""
    block = life.block("counted")
    short = life.block("short")
    plots = [factories.plot(block) for _n in range(2)]
    season = factories.season(life.org, "reporting", year=2027)
    survey_round = life.known("round", factories.survey_round(
        life.project, plots, season=season, opens_on=date(2027, 9, 5), closes_on=date(2027, 10, 20)
    ))  # fmt: skip

    def again(act: Act) -> Act:
        """What a worker does after it has computed."""

        def run() -> None:
            act()
            of_monitoring.renew(life.org)

        return run

    def close() -> None:
        m.SurveyRound.objects.filter(pk=survey_round.pk).update(status="closed")

    def doubt() -> None:
        m.Case.objects.create(organisation=life.org, kind="clock_skew", round=survey_round, plot=plots[0])

    def settle() -> None:
        m.Case.objects.filter(organisation=life.org).update(settled_seq=1)

    life.shows("round_due", "round", life.dawn(date(2027, 9, 5)), life.on(date(2027, 10, 12), again(close)))
    life.shows(
        "case_open",
        "round",
        life.on(date(2027, 9, 20), again(doubt)),
        life.on(date(2027, 9, 25), again(settle)),
    )

    def figure(where: Any, **fields: Any) -> Act:
        def act() -> None:
            m.Estimate.objects.update_or_create(
                organisation=life.org, project=life.project, round=survey_round, block=where, scope="block",
                key=str(where.uid), measure="survival", method="ratio", level=0.9,
                defaults={
                    "uid": uuid7(), "is_headline": True, "n_plots": 2, "outcome": "not_settled",
                    "next_step": "", "facts": {"not_found": 4}, **fields,
                },
            )  # fmt: skip

        return again(act)

    looked = life.on(date(2027, 10, 18), figure(block, next_step="more_plots", more_plots=5))
    life.shows(
        "look_again", "counted", life.on(date(2027, 10, 15), figure(block, next_step="look_again")), looked
    )
    life.shows(
        "not_settled", "counted", looked, life.on(date(2027, 11, 3), figure(block, outcome="meets_target"))
    )

    def need() -> None:
        m.ReplacementNeed.objects.create(
            organisation=life.org, uid=uuid7(), project=life.project, round=survey_round, block=short, n_expected=20,
            n_assured=30, assurance=0.9, stock_type="container", order_by=date(2027, 12, 1),
        )  # fmt: skip

    def order() -> None:
        line = orders.Line(life.oak, "container", 30, block=short)
        orders.draft_order(actor=life.actor, project=life.project, lines=[line])

    needed = life.on(date(2027, 11, 5), again(need))
    life.shows(
        "falls_short", "short", life.on(date(2027, 11, 4), figure(short, outcome="falls_short")), needed
    )
    life.shows("replace_order", "short", needed, life.on(date(2027, 11, 12), order))


def replacements(life: Life) -> None:
    """Replacements go in where plots are, and a plot is visited afterwards."""
    block = life.block("replanted")
    plot = factories.plot(block)
    old = factories.cohort(block, factories.lot(life.org, life.oak), factories.season(life.org, year=2024))
    lot = factories.lot(life.org, life.oak, received=20, stock_type="container")

    def plant() -> None:
        day = planting.plant(
            actor=life.actor, block=block, lot=lot, planted_on=life.today(), quantity=20, replaces=old
        )
        life.known("new trees", day.cohort)

    def visit() -> None:
        m.Visit.objects.create(
            organisation=life.org, uid=uuid7(), root=uuid7(), submission_seq=1, purpose="baseline", plot=plot,
            observed_on=life.today(), status="counted", is_head=True,
        )  # fmt: skip
        of_monitoring.renew(life.org)

    planted = life.on(date(2027, 11, 20), plant)
    life.shows("baseline_visit", "new trees", planted, life.on(date(2027, 12, 2), visit))
    walked = life.on(
        date(2027, 12, 8), lambda: walks.record_walk(actor=life.actor, block=block, walked_on=life.today())
    )
    life.shows("walk_due", "replanted", life.dawn(date(2027, 12, 4)), walked)


EVERYTHING = (
    lots_that_wait, lots_in_doubt, orders_and_deliveries, care_of_a_block, windows_that_close,
    walks_and_planting_days, agreements, rounds_and_counts, replacements,
)  # fmt: skip
OF_DAYS = (orders_and_deliveries, care_of_a_block, windows_that_close, walks_and_planting_days, agreements)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("zone", "facts"),
    [("Pacific/Auckland", EVERYTHING), ("Europe/Lisbon", OF_DAYS), ("America/Santiago", OF_DAYS)],
)
def test_each_thing_comes_on_its_day_and_goes_when_it_is_settled(set_clock, zone, facts):
    life = Life(zone, set_clock)
    for fact in facts:
        fact(life)
    if facts is EVERYTHING:
        assert {row.kind for row in life.stretches} == set(reminder_words.registered)
    assert life.live() > 50
    assert ReminderSnooze.objects.filter(organisation=life.org).count() == 1
