"""Everything a season summary holds, as plain values that can be frozen: figures, ledger, plots, needs, money."""

from collections.abc import Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any

from django.db.models import Q

from monitoring.cause_words import told
from monitoring.estimators import rows
from monitoring.estimators.rows import EstimateRow
from monitoring.estimators.season import SeasonTotals, Total, season_totals
from monitoring.models import CASES_OF_FIGURES, Case, Estimate, ReplacementNeed, SurveyRound
from monitoring.selectors import loss_causes, plot_draws, season_ledger
from monitoring.selectors.domain_facts import not_removed
from monitoring.selectors.headlines import APART, Line, headlines, lines_by_scope
from monitoring.selectors.results import Tally, added, open_counts, tallies_of
from projects.models import Block, Project, Season

SCHEMA = "season-summary/1"
FIGURE = (
    "measure", "method", "level", "value", "se", "lower", "upper", "lower_claim", "upper_claim", "n_plots",
    "n_trees", "n_flagged", "status", "reason", "outcome", "outcome_claim", "more_plots", "next_step", "revision",
)  # fmt: skip
FACTS = ("planted", "counted_alive", "not_found", "removed", "mixed_age", "age_days", "ledger_planted")
OTHERWISE_MEASURED = frozenset(APART)
Row = dict[str, Any]


def season_rows(project: Project, season: Season) -> Row:
    """The rows of one edition, in a fixed number of queries."""
    survey_round = round_of(project, season)
    figures = list(headlines([survey_round.pk])) if survey_round else []
    lines = lines_by_scope(figures)
    whole = next(iter(lines.get("project", [])), None)
    tallies = tallies_of(survey_round) if survey_round else {}
    totals = totals_of(project, whole, lines.get("block", []))
    return {
        "schema": SCHEMA,
        "project": project_row(project),
        "season": {"label": season.label, "starts_on": iso(season.starts_on), "ends_on": iso(season.ends_on)},
        "round": round_row(survey_round),
        "revision": max((row.revision for row in figures), default=0),
        "level": max((row.level for row in figures), default=0.95),
        "planted": season_ledger.planted(project, season),
        "whole": frozen_line(whole) if whole else None,
        "share_surveyed": whole.facts.get("share_surveyed") if whole else None,
        **{name: [frozen_line(line) for line in lines.get(scope, [])] for name, scope in GROUPS.items()},
        "apart": apart(lines),
        "totals": totals_row(totals),
        "money": money_row(season_ledger.money(project, season), totals),
        "plots": tally_row(added(tallies.values())),
        "n_open_cases": open_cases(survey_round),
        "n_figure_doubts": figure_doubts(survey_round),
        "share_without_count": without_count(tallies.values()),
        "not_covered": covered_short(survey_round),
        "causes": cause_rows(survey_round, lines.get("block", [])),
        "needs": need_rows(project),
        "seasons": season_points(project, season),
    }  # fmt: skip


GROUPS = {"blocks": "block", "sites": "site", "species": "species", "plantings": "cohort"}


def round_of(project: Project, season: Season) -> SurveyRound | None:
    """The latest round of the season that has figures, else the latest."""
    rounds = SurveyRound.objects.filter(project=project, season=season).order_by("-opens_on", "-id")
    with_figures = Estimate.objects.filter(round__in=rounds, n_plots__gt=0).values("round_id")
    return rounds.filter(pk__in=with_figures).first() or rounds.first()


def project_row(project: Project) -> Row:
    return {
        "name": project.name,
        "purpose": project.purpose,
        "funder": project.funder_name,
        "target_survival": float(project.target_survival),
        "check_age_seasons": project.check_age_seasons,
        "check_age_months": project.check_age_months,
        "claim_level": float(project.claim_level),
        "has_baseline": project.has_baseline,
    }


def round_row(survey_round: SurveyRound | None) -> Row | None:
    if survey_round is None:
        return None
    days = (survey_round.opens_on, survey_round.closes_on)
    return {"name": survey_round.name, "opens_on": days[0].isoformat(), "closes_on": days[1].isoformat()}


def frozen(figure: Estimate) -> Row:
    """One figure as the page needs it, whatever becomes of its row."""
    facts = {name: figure.facts[name] for name in FACTS if name in figure.facts}
    return {name: getattr(figure, name) for name in FIGURE} | {"facts": facts}


def frozen_line(line: Line) -> Row:
    subject = line.subject
    row: Row = {
        "key": line.key,
        "label": line.label,
        "figures": {name: frozen(figure) for name, figure in sorted(line.figures.items())},
        "stocking_target": line.stocking_target,
    }
    if line.scope == "block" and subject is not None:
        row["note"] = subject.site.name
    if line.scope == "cohort" and subject is not None:
        row |= {"note": subject.season.label, "replaces": subject.replaces_id is not None}
        row |= {"species": subject.species.scientific_name, "block": subject.block.name}
    return row


def apart(lines: Mapping[str, list[Line]]) -> list[Row]:
    """Measures that are not survival: their whole, else their blocks."""
    found = []
    for measure in APART:
        scopes = ("project", "block")
        held = [line for scope in scopes for line in lines.get(scope, []) if measure in line.figures]
        found += [
            {"label": line.label, "scope": line.scope, "figure": frozen(line.figures[measure])}
            for line in held
        ]
    return found


def removed_by_ledger(facts: Mapping[str, Any]) -> float:
    """Trees of a block removed on purpose, at the share of its counted plots; survival leaves them out."""
    return (facts.get("ledger_planted") or 0) * (1 - not_removed(facts))


def totals_of(project: Project, whole: Line | None, blocks: Sequence[Line]) -> SeasonTotals:
    """Living planted trees in the surveyed blocks, by both routes.

    By area only where it covers the same trees: every block has its area, and none holds seed spots or trees
    without a counted baseline, which stand on the ground and not in the ledger's survival.
    """
    if whole is None:
        return SeasonTotals(None, None, disagree=False)
    known = (
        season_ledger.areas(project)
        if not any(OTHERWISE_MEASURED & line.figures.keys() for line in blocks)
        else {}
    )
    stocked = [known.get(line.key) if rows.STOCKING_PLANTED in line.figures else None for line in blocks]
    area = sum(one for one in stocked if one is not None) if None not in stocked else float("nan")
    planted = (whole.facts.get("ledger_planted") or 0) - sum(removed_by_ledger(line.facts) for line in blocks)
    survival = as_row(whole.survival) if planted else None
    return season_totals(planted, survival, area, as_row(whole.figures.get(rows.STOCKING_PLANTED)))


def as_row(figure: Estimate | None) -> EstimateRow | None:
    if figure is None:
        return None
    names = ("scope", "key", "measure", "method", "level", "value", "lower", "upper", "status")
    return EstimateRow(**{name: getattr(figure, name) for name in names})


def totals_row(totals: SeasonTotals) -> Row:
    return {
        "from_ledger": total_row(totals.from_ledger),
        "from_area": total_row(totals.from_area),
        "disagree": totals.disagree,
    }


def total_row(total: Total | None) -> Row | None:
    if total is None:
        return None
    return {
        "measure": "trees",
        "value": total.value,
        "lower": total.lower,
        "upper": total.upper,
        "level": total.level,
    }


def money_row(money: Row, totals: SeasonTotals) -> Row:
    """What was spent, and spent per living tree: more living trees make each one cheaper, so the limits cross."""
    living, spent = totals.from_ledger, money["spent_minor"]
    if not spent or living is None or not living.lower:
        return money | {"per_living": None}
    value, lower, upper = (round(spent / trees) for trees in (living.value, living.upper, living.lower))
    return money | {"per_living": {"value": value, "lower": lower, "upper": upper}}


def tally_row(tally: Tally) -> Row:
    return {
        "planned": tally.planned, "counted": tally.counted, "destroyed": tally.destroyed,
        "outside": tally.outside, "missing": [list(pair) for pair in tally.missing], "open": tally.n_open,
    }  # fmt: skip


def open_cases(survey_round: SurveyRound | None) -> int:
    return open_counts(survey_round).count() if survey_round else 0


def figure_doubts(survey_round: SurveyRound | None) -> int:
    """Plots far from their neighbours and totals that disagree, still to be looked into."""
    if survey_round is None:
        return 0
    rows_ = Case.objects.filter(round=survey_round, settled_seq__isnull=True, kind__in=CASES_OF_FIGURES)
    return rows_.count()


def without_count(tallies: Iterable[Tally]) -> float | None:
    """Share of the planned plots that have no count; None where none was planned."""
    whole = added(tallies)
    without = whole.n_missing + whole.n_open
    return without / whole.planned if whole.planned else None


def covered_short(survey_round: SurveyRound | None) -> list[Row]:
    """Blocks of which a strip along the border was left out of the draw, with its share of the ground."""
    shares = plot_draws.not_covered(survey_round) if survey_round else {}
    names = dict(Block.objects.filter(uid__in=list(shares)).values_list("uid", "name"))
    return [
        {"label": name, "share": shares[str(uid)]}
        for uid, name in sorted(names.items(), key=itemgetter(1, 0))
    ]


def cause_rows(survey_round: SurveyRound | None, blocks: Iterable[Line]) -> list[Row]:
    """Blocks that fall short, each with the causes assigned for it; none where nobody has said."""
    short = [
        line
        for line in blocks
        if line.subject and line.survival and line.survival.outcome_claim == "falls_short"
    ]
    causes = loss_causes.of_round(survey_round) if survey_round and short else {}
    return [
        {"label": line.label, "causes": [told(row) for row in causes.get(line.subject.pk, ())]}
        for line in short
    ]


def need_rows(project: Project) -> list[Row]:
    """What is planned next: replacement needs of whole blocks."""
    needs = ReplacementNeed.objects.filter(project=project, species__isnull=True, status="ok").select_related(
        "block"
    )
    return [
        {
            "block": need.block.name,
            "stock_type": need.stock_type,
            "n_expected": need.n_expected,
            "n_assured": need.n_assured,
            "assurance": need.assurance,
            "window_opens_on": iso(need.window_opens_on),
            "window_closes_on": iso(need.window_closes_on),
            "order_by": iso(need.order_by),
        }
        for need in needs.order_by("block__name", "block_id", "id")
    ]


def iso(day: Any) -> str | None:
    return day.isoformat() if day else None


def season_points(project: Project, season: Season) -> list[Row]:
    """Survival of the project by reporting season up to this one, each from its latest round."""
    reported = Estimate.objects.filter(
        Q(measure=rows.SURVIVAL) | Q(measure=rows.SURVIVAL_IF_FOUND),
        project=project, scope="project", is_headline=True, round__season__ends_on__lte=season.ends_on,
    )  # fmt: skip
    order = ("round__season__starts_on", "round__season_id", "round__opens_on", "round_id", "measure")
    points: dict[int, Row] = {}
    for figure in reported.select_related("round__season").order_by(*order):
        point = points.setdefault(figure.round.season_id, {"label": figure.round.season.label})
        point |= {"round": figure.round.name, figure.measure: frozen(figure)}
    return list(points.values())
