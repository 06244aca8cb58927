"""The story of the demo, beat by beat: who looks at which page, and what must be read there.

Every figure is read from the database, with the words pages use, so a beat that is not told any more has no
figure to show and fails.
"""

from collections.abc import Iterator

from monitoring.cause_words import cause_words
from monitoring.cause_words import told as cause_told
from monitoring.demo import serra_blocks as blocks
from monitoring.demo.beats import AUTUMN, KENYAN, SCHOOLS, Beat, Storyteller
from monitoring.demo.kimbaru import FARMS, KIMBARU
from monitoring.demo.serra_lots import COLD_OAKS, EASY_OAKS, GAP_LOT, REPLACEMENT_OAKS, WARM_OAKS
from monitoring.demo.serra_people import FIRE, HEDGE, RIVER, TERRACES
from monitoring.demo.serra_planning import FREE_SPOTS, TITLE
from monitoring.models import Case, CountLine, LossCause, RegenerationLine, ReplacementNeed, Visit
from monitoring.result_words import SIGNS
from projects.clocks import today_of
from projects.figures import percent, quantity, short_day, with_unit
from projects.models import Block, Holding, Plan, Project, StockOrder
from projects.selectors.ledgers import clocks_when_planted, standings

OUTCOMES = (
    (
        "meets_but_gaps",
        "survival meets the target, stocking has gaps",
        blocks.MEADOW,
        "meets_target",
        "meets target",
    ),
    ("falls_short", "alders and willows fall short", blocks.NORTH, "falls_short", "falls short"),
)


def every_beat() -> Iterator[Beat]:
    """Yield the whole story."""
    told = Storyteller()
    for part in (stock_beats, outcome_beats, ground_beats, plot_beats, doubt_beats, other_beats):
        yield from part(told)


# --- stock ----------------------------------------------------------------------------------
def stock_beats(told: Storyteller) -> Iterator[Beat]:
    """Lots: how long they waited, how they did, where plants are missing, what is running now."""
    warm = max(clock.days_out for clock in clocks_when_planted(told.lot(WARM_OAKS)).values())
    yield Beat(
        "warm_lot", "bare-root oaks stood 11 days uncooled", told.lot_page(WARM_OAKS), (f"{warm} too long",)
    )
    cold = max(clock.days_stored for clock in clocks_when_planted(told.lot(COLD_OAKS)).values())
    yield Beat(
        "cold_lot", "a lot that waited longer, but in cold store", told.lot_page(COLD_OAKS),
        ("In store before planting", f"{cold} days"),
    )  # fmt: skip
    yield Beat(
        "traced", "why the uncooled oaks did badly, as far as it was written down",
        told.page("monitoring:trace_block", told.block(blocks.UPPER).uid),
        (f"{warm} days between lifting and planting, uncooled", "roots dry at a hand-over", f"{WARM_OAKS} did worse"),
    )  # fmt: skip
    compare = told.page("monitoring:compare", told.round_of(TERRACES).uid)
    yield Beat(
        "lots_side_by_side", "the uncooled lot did worse than the cold-stored one in the same blocks", compare,
        (f"{WARM_OAKS} did worse", f"{COLD_OAKS} did better", percent(told.peer(WARM_OAKS).pooled)),
    )  # fmt: skip
    easy = told.peer(EASY_OAKS)
    if easy.status == "cannot_separate":
        yield Beat(
            "cannot_separate", "the lot that looks best stands only in the easiest block", compare,
            ("Cannot separate", EASY_OAKS, percent(easy.pooled)),
        )  # fmt: skip
    gap = told.reminder("lot_gap", lot=GAP_LOT).facts["gap"]
    yield Beat("lot_gap", "a ledger with a gap", told.lot_page(GAP_LOT), (f"{gap} received are nowhere",))
    yield from running_beats(told)


def running_beats(told: Storyteller) -> Iterator[Beat]:
    """What has to be decided within days."""
    home = told.page("projects:home")
    lot = told.lot("QP-26-A")
    clock = standings([lot], today_of(told.organisation))[0].clock
    if clock is not None and clock.plant_by is not None:
        yield Beat(
            "clock_running", "a bare-root lot that has to be planted within days", home,
            (f"Plant lot {lot.code}", short_day(clock.plant_by)),
        )  # fmt: skip
    order = StockOrder.objects.get(status="draft", **told.org)
    yield Beat(
        "draft_order",
        "a draft order near its latest date",
        home,
        ("Place the order for", short_day(order.order_by)),
    )


# --- outcomes -------------------------------------------------------------------------------
def outcome_beats(told: Storyteller) -> Iterator[Beat]:
    """Blocks that meet the target, fall short, are not settled, or want another look."""
    home = told.page("projects:home")
    more = told.reminder("not_settled", block=blocks.ORCHARD).facts["more_plots"]
    yield Beat(
        "not_settled",
        "five plots are not enough",
        home,
        (f"Count {quantity(more)} more plots in {blocks.ORCHARD}",),
    )
    missing = told.reminder("look_again", block=blocks.SOUTH).facts["not_found"]
    yield Beat(
        "look_again", "trees not found keep the outcome open", home,
        (f"Go back and look in {blocks.SOUTH}", f"{quantity(missing)} trees were not found"),
    )  # fmt: skip
    for key, story, block, outcome, words in OUTCOMES:
        figure = told.figure(RIVER, block)
        if figure.outcome == outcome:
            yield Beat(key, story, told.round_page(RIVER), (block, percent(figure.value), words))
    stocked = told.figure(RIVER, blocks.MEADOW, "plots_stocked")
    yield Beat(
        "stocking_gaps", "half of the meadow's plots are bare", told.summary_page(), (percent(stocked.value),)
    )
    census = told.figure(HEDGE, blocks.SQUARE)
    yield Beat(
        "census",
        "large trees counted one by one",
        told.round_page(HEDGE),
        (blocks.SQUARE, percent(census.value)),
    )


# --- ground ---------------------------------------------------------------------------------
def ground_beats(told: Storyteller) -> Iterator[Beat]:
    """What happened on the ground: frost, browsing, seedlings, replacements, acorns."""
    needs = told.page("monitoring:need_list")
    for key, story, block, sign in (
        ("frost", "frost in the hollow", blocks.FROST, "frost_blackened"),
        ("browsing", "goats on the burnt slope", blocks.WEST, "bitten"),
    ):
        need = ReplacementNeed.objects.get(
            block=told.block(block), species=None, round__name__endswith=AUTUMN
        )
        yield Beat(key, story, needs, (block, f"{SIGNS[sign]} {quantity(need.losses[sign])}"))
    for key, story, block, page in (
        ("frost_assigned", "the lead said that frost killed them", blocks.FROST, needs),
        ("browsing_assigned", "the lead said that goats killed them", blocks.WEST, needs),
        (
            "stock_assigned",
            "the uncooled oaks died of how they came",
            blocks.UPPER,
            told.block_page(blocks.UPPER),
        ),
    ):
        cause = LossCause.objects.get(block=told.block(block), withdrawn_at=None)
        yield Beat(key, story, page, (block, cause_words(cause_told(cause)), cause.note))
    natural = told.figure(RIVER, blocks.NORTH, "stocking_natural")
    yield Beat(
        "natural_regeneration", "natural seedlings stand apart and flatter nothing", told.summary_page(),
        ("Natural regeneration", with_unit(natural.value, "per_ha")),
    )  # fmt: skip
    yield Beat(
        "replacement", "a replacement planting is a planting of its own", told.block_page(blocks.UPPER),
        (f"replaces losses of Quercus pyrenaica, {WARM_OAKS}", REPLACEMENT_OAKS),
    )  # fmt: skip
    acorns = told.figure(TERRACES, blocks.ACORNS, "spot_occupancy")
    yield Beat(
        "acorns", "acorn spots are no survival of trees", told.round_page(TERRACES),
        (blocks.ACORNS, percent(acorns.value)),
    )  # fmt: skip
    yield Beat(
        "no_baseline", "a project that joined without a baseline", told.page(
            "projects:project_detail", Project.objects.get(name=HEDGE, **told.org).uid
        ), ("Counted at planting no",),
    )  # fmt: skip


# --- plots ----------------------------------------------------------------------------------
def plot_beats(told: Storyteller) -> Iterator[Beat]:
    """Single plots: slid away, not reached, in rows, thinned, sprouting again, overgrown, rebuilt."""
    slid, missed = (told.visit(RIVER, blocks.SOUTH, name).plot for name in ("SB-07", "SB-11"))
    yield Beat("destroyed", "a plot that a slide took", told.plot_page(slid), ("slid",))
    yield Beat("not_reached", "a plot that high water cut off", told.plot_page(missed), ("not reached",))
    row = told.visit(RIVER, blocks.NORTH, "NB-01").plot
    yield Beat(
        "rows",
        "the riverside is counted in rows",
        told.plot_page(row),
        ("row of spots", f"{row.spots} spots"),
    )
    thinned = Visit.objects.filter(plot__block=told.block(blocks.LOWER), removals__is_counted=True).order_by(
        "id"
    )[0]
    removed = thinned.removals.get().alive_removed
    yield Beat(
        "thinning", "nurse birches thinned on purpose are no deaths", told.plot_page(thinned.plot),
        (f"{removed} living taken out on purpose",),
    )  # fmt: skip
    line = (
        CountLine.objects.filter(visit__plot__block=told.block(blocks.EAST), resprout__gt=1, visit__is_counting=True)
        .order_by("-resprout", "id").select_related("visit__plot").first()
    )  # fmt: skip
    if line is not None:
        yield Beat(
            "resprouts", "oaks written off after the drought sprout again", told.plot_page(line.visit.plot),
            (f"{line.resprout} resprouts",),
        )  # fmt: skip
    wattle = RegenerationLine.objects.filter(
        visit__plot__block=told.block(blocks.WEST), species__slug="acacia-dealbata", visit__is_counting=True
    ).order_by("-count", "id")[0]
    yield Beat(
        "wattle", "wattle comes up after the fire", told.plot_page(wattle.visit.plot),
        ("Acacia dealbata", f"height class: {wattle.count}"),
    )  # fmt: skip
    hedge = told.block(blocks.LANE).plots.order_by("name")
    yield Beat(
        "rebuilt",
        "a baseline rebuilt from what is visible",
        told.plot_page(hedge[0]),
        ("rebuilt from visible spots",),
    )
    corrected = told.block(blocks.UPPER).plots.get(name="UT-02")
    yield Beat(
        "correction", "a count corrected the same evening", told.plot_page(corrected), ("corrected since",)
    )


# --- doubts ---------------------------------------------------------------------------------
def doubt_beats(told: Storyteller) -> Iterator[Beat]:
    """Counts a field lead should look at."""
    open_cases = Case.objects.filter(settled_seq__isnull=True, **told.org)
    for key, story, kind, words in (
        (
            "second_count",
            "two volunteers counted one plot and disagree",
            "second_root",
            "Two people counted one plot",
        ),
        ("over_baseline", "more alive than were planted", "over_baseline", "More alive than were planted"),
    ):
        case = open_cases.get(kind=kind)
        yield Beat(key, story, told.page("monitoring:case_detail", case.uid), (words, case.plot.name))
    yield Beat(
        "still_to_count", "plots of an open round wait", told.page("projects:home"),
        (f"of {told.round_of(TERRACES).name}", f"of {told.round_of(FIRE).name}"),
    )  # fmt: skip


# --- others ---------------------------------------------------------------------------------
def other_beats(told: Storyteller) -> Iterator[Beat]:
    """What is planned next, the second funder, and the other organisation with its list of farms."""
    again = Plan.objects.get(**told.org)
    yield Beat(
        "plan_again", "a draft to plant again behind the fence", told.page("projects:plan_detail", again.uid),
        (TITLE, quantity(FREE_SPOTS)),
    )  # fmt: skip
    hedge = Project.objects.get(name=HEDGE, **told.org)
    yield Beat(
        "second_funder", "a second funder sees one project on two sites",
        told.page("projects:project_detail", hedge.uid),
        ("Vale do Sabugal Velho", "Ribeira da Moita"), SCHOOLS,
    )  # fmt: skip
    farms = Block.objects.get(organisation__slug=KIMBARU.slug, name=FARMS)
    first = Holding.objects.filter(block=farms).order_by("label")[0]
    yield Beat(
        "holdings", "trees on a list of farms", told.page("projects:block_detail", farms.uid, KIMBARU.slug),
        (first.label, quantity(first.trees_received)), KENYAN,
    )  # fmt: skip
