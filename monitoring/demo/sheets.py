"""Phone records of the demo: `visit/1` bodies with fixed identities, so that every load writes the same bytes."""

import json
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from monitoring.demo.counts import LineCount, PlotRound, rounds_of
from monitoring.demo.ground import place
from monitoring.demo.identities import identity
from monitoring.demo.layout import PlotDraw, lay_out
from monitoring.demo.marks import counted_otherwise, line_marks, natural_rows, over_baseline, visible
from monitoring.demo.records import Sheet
from monitoring.demo.shapes import BlockPlan, OrganisationPlan, Planting, RoundPlan, Special

LEAD, FIRST, SECOND = "lead", "one", "two"  # who carries the phone
DAYS_A_BLOCK, PLOTS_A_DAY = 2, 6


class Sheets:
    """All records of one organisation, in the order in which they happened."""

    def __init__(self, plan: OrganisationPlan, seed: int) -> None:
        self.plan, self.seed = plan, seed

    @cached_property
    def drawn(self) -> dict[str, tuple[PlotDraw, ...]]:
        """The plots of every block."""
        return {
            block.name: lay_out(self.plan.slug, block, self.seed, self.plan.site(block.site))
            for block in self.plan.blocks
        }

    @cached_property
    def fates(self) -> dict[tuple[str, str, str], PlotRound]:
        """What each plot of each block shows in each round."""
        return {
            (block.name, plot.name, seen.round): seen
            for block in self.plan.blocks
            for plot in self.drawn[block.name]
            for seen in rounds_of(self.plan.slug, block, plot, self.seed)
        }

    # --- visits that set baselines or note a thinning ----------------------------------------
    def baseline_sheets(self) -> list[Sheet]:
        """Return planting-day visits of every plot, replacements and thinnings included."""
        found = []
        for block in self.plan.blocks:
            for plot in self.drawn[block.name]:
                found += self.planting_visits(block, plot)
                found += self.thinning_visits(block, plot)
        return sorted(found, key=lambda sheet: (sheet.observed_on, sheet.block, sheet.plot))

    def planting_visits(self, block: BlockPlan, plot: PlotDraw) -> list[Sheet]:
        """Return the visit of the first planting and that of each replacement."""
        first = [p for p in block.plantings if not p.replaces and p.baseline == "at_planting"]
        groups = [first, *([p] for p in block.plantings if p.replaces)]
        found = []
        for number, plantings in enumerate(group for group in groups if group):
            day = max(day for p in plantings for day, _n in p.days)
            rows = [self.baseline_row(block, plot, p, self.planted(block, plot, p), day) for p in plantings]
            found.append(self.sheet(block, plot, None, day, LEAD, ["baseline", number], baselines=rows))
        return found

    def thinning_visits(self, block: BlockPlan, plot: PlotDraw) -> list[Sheet]:
        """Return the visit on the day nurse trees were taken out, where any were."""
        found = []
        for key in block.rounds:
            for line in self.fates[block.name, plot.name, key].lines:
                if line.newly_removed and line.planting.thinned:
                    day = line.planting.thinned[0]
                    row = {
                        "baseline": str(self.line_uid(block, plot, line.planting)), "removed_on": day.isoformat(),
                        "alive_removed": line.newly_removed, "reason": "thinning",
                    }  # fmt: skip
                    found.append(self.sheet(block, plot, None, day, LEAD, ["thinning"], removals=[row]))
        return found

    def planted(self, block: BlockPlan, plot: PlotDraw, planting: Planting) -> int:
        """Return how many of a planting stand in a plot, 0 where none do."""
        for key in block.rounds:
            for line in self.fates[block.name, plot.name, key].lines:
                if line.planting is planting:
                    return line.planted
        return 0

    def line_uid(self, block: BlockPlan, plot: PlotDraw, planting: Planting) -> UUID:
        """Return the identity of a baseline line."""
        return identity(self.plan.slug, "baseline", block.name, plot.name, planting.lot or planting.species)

    def baseline_row(
        self, block: BlockPlan, plot: PlotDraw, planting: Planting, planted: int | None, day: date
    ) -> dict[str, Any]:
        season = planting.season or self.plan.season_of(planting.days[0][0])
        return {
            "uid": str(self.line_uid(block, plot, planting)), "species": planting.species,
            "cohort": str(identity(self.plan.slug, "cohort", block.name, planting.lot or planting.species, season)),
            "planted": planted, "unit": planting.unit,
            "source": planting.baseline if plot.has_baseline else "none", "counted_on": day.isoformat(),
        }  # fmt: skip

    # --- rounds -------------------------------------------------------------------------------
    def round_sheets(self, survey_round: RoundPlan) -> list[Sheet]:
        """Return what the crews of one round sent, block by block."""
        found = []
        blocks = self.blocks_of(survey_round)
        for number, block in enumerate(blocks):
            for position, plot in enumerate(self.drawn[block.name]):
                if (block.name, plot.name) not in survey_round.waiting_plots:
                    day = survey_round.opens_on + timedelta(DAYS_A_BLOCK * number + position // PLOTS_A_DAY)
                    found += self.visits(block, plot, survey_round, day, (FIRST, SECOND)[number % 2])
        return found

    def blocks_of(self, survey_round: RoundPlan) -> list[BlockPlan]:
        """Return the blocks counted in a round."""
        return [
            block
            for block in self.plan.blocks
            if block.project == survey_round.project and survey_round.key in block.rounds
        ]

    def visits(
        self, block: BlockPlan, plot: PlotDraw, survey_round: RoundPlan, day: date, author: str
    ) -> list[Sheet]:
        """Return the visit of one plot, or what happened instead."""
        special = self.special(block, plot, survey_round)
        kind = special.kind if special else ""
        seen = self.fates[block.name, plot.name, survey_round.key]
        key: list[object] = ["visit", survey_round.key]
        if special and kind in ("destroyed", "missing"):
            return [
                self.sheet(
                    block, plot, survey_round, day, author, key, status=kind, reason=special.reason, lines=[]
                )
            ]
        lines = [self.line_row(block, plot, line) for line in seen.lines]
        parts = {
            "lines": lines,
            "regeneration": natural_rows(seen),
            **self.rebuilt(block, plot, survey_round, day),
        }
        if kind == "over_baseline":
            parts["lines"] = [over_baseline(seen.lines[0], lines[0]), *lines[1:]]
        if kind == "correction":
            return self.corrected(block, plot, survey_round, day, author, key, parts)
        first = self.sheet(block, plot, survey_round, day, author, key, **parts)
        if kind != "second_count":
            return [first]
        other = {**parts, "lines": [counted_otherwise(lines[0]), *lines[1:]]}
        who = SECOND if author == FIRST else FIRST
        return [first, self.sheet(block, plot, survey_round, day, who, [*key, "second"], **other)]

    def special(self, block: BlockPlan, plot: PlotDraw, survey_round: RoundPlan) -> Special | None:
        """Return what was out of the ordinary, if anything."""
        for row in self.plan.specials:
            if (row.block, row.plot, row.round) == (block.name, plot.name, survey_round.key):
                return row
        return None

    def corrected(
        self, block: BlockPlan, plot: PlotDraw, survey_round: RoundPlan, day: date, author: str, key: list,
        parts: dict[str, Any],
    ) -> list[Sheet]:  # fmt: skip
        """Return a visit with a slip of the pen and its correction the same evening."""
        slip = {**parts, "lines": [counted_otherwise(parts["lines"][0]), *parts["lines"][1:]]}
        first = self.sheet(block, plot, survey_round, day, author, key, **slip)
        return [
            first,
            self.sheet(block, plot, survey_round, day, author, [*key, "correction"], parent=first, **parts),
        ]

    def rebuilt(self, block: BlockPlan, plot: PlotDraw, survey_round: RoundPlan, day: date) -> dict[str, Any]:
        """Return baselines rebuilt from the spots still visible at the first round of a hedge nobody had counted."""
        if survey_round.key != block.rounds[0]:
            return {}
        seen = self.fates[block.name, plot.name, survey_round.key]
        rows = [
            self.baseline_row(block, plot, line.planting, visible(line) if plot.has_baseline else None, day)
            for line in seen.lines
            if line.planting.baseline == "visible_spots"
        ]
        return {"baselines": rows} if rows else {}

    def line_row(self, block: BlockPlan, plot: PlotDraw, line: LineCount) -> dict[str, Any]:
        """Return one line of the sheet; 0 and empty marks are left out, as the phone does."""
        return line_marks(line, self.line_uid(block, plot, line.planting), known=plot.has_baseline)

    # --- one record ---------------------------------------------------------------------------
    def sheet(
        self, block: BlockPlan, plot: PlotDraw, survey_round: RoundPlan | None, day: date, author: str,
        key: list, *, parent: Sheet | None = None, status: str = "counted", reason: str = "", **parts: Any,
    ) -> Sheet:  # fmt: skip
        """Write one record; a correction names the record it corrects and keeps its visit."""
        slug = self.plan.slug
        uid = identity(slug, "record", block.name, plot.name, *key)
        body = {
            "visit": str(parent.id if parent else uid), "parents": [str(parent.id)] if parent else [],
            "plot": str(identity(slug, "survivalplot", block.name, plot.name)),
            "round": str(identity(slug, "surveyround", survey_round.name)) if survey_round else None,
            "purpose": "survival" if survey_round else "baseline", "observed_on": day.isoformat(),
            "captured_at": self.captured_at(block, day, plot).isoformat(), "clock_offset_ms": 1200,
            "status": status, "reason": reason, **parts,
        }  # fmt: skip
        return Sheet(
            uid, author, survey_round, block.name, plot.name, day,
            json.dumps(body, ensure_ascii=False), json.dumps(self.personal(block, plot, author)),
        )  # fmt: skip

    def captured_at(self, block: BlockPlan, day: date, plot: PlotDraw) -> datetime:
        """Return a moment of the working day at the site, in its own zone."""
        position = [draw.name for draw in self.drawn[block.name]].index(plot.name)
        zone = ZoneInfo(self.plan.site(block.site).time_zone)
        return datetime.combine(day, time(8 + position % PLOTS_A_DAY, 5 + position), tzinfo=zone)

    def personal(self, block: BlockPlan, plot: PlotDraw, author: str) -> dict[str, Any]:
        """Return the personal part: who by role, where the phone stood, which phone."""
        site, position = self.plan.site(block.site), None
        if plot.point_m:
            latitude, longitude = place(site.latitude, site.longitude, *plot.point_m)
            position = {"latitude": latitude, "longitude": longitude, "accuracy_m": 6}
        return {"author": f"demo {author}", "note": "", "position": position, "device": "demo phone"}


def every_sheet(plan: OrganisationPlan, seed: int) -> list[Sheet]:
    """Return every record of an organisation in order: baselines first, then round by round."""
    sheets = Sheets(plan, seed)
    found = sheets.baseline_sheets()
    for survey_round in plan.rounds:
        found += sheets.round_sheets(survey_round)
    return found
