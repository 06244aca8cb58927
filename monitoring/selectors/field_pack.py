"""What a phone needs to count offline: the rounds it may serve, their plots, and what was planted there."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from django.db.models import Prefetch

from monitoring.access import visible_rounds, visible_species
from monitoring.models import PlotBaseline, RoundPlot, RoundStatus, SurveyRound, SurvivalPlot, Visit
from projects.access import Actor
from projects.models import Organisation, Role, Site
from projects.selectors.field_work import field_work
from species.access import standing_ranges
from species.models import RangeStatus, Species, SpeciesName

Pack = dict[str, Any]


def rounds_for_phone(actor: Actor) -> list[SurveyRound]:
    """Return the open rounds a phone may serve: those of its pass, or all a member sees."""
    rows = visible_rounds(actor).filter(status=RoundStatus.OPEN).order_by("opens_on", "id")
    if actor.field_pass is not None:
        rows = rows.filter(field_pass_grants__field_pass=actor.field_pass)
    return list(rows)


def field_pack(actor: Actor) -> Pack:
    """Return everything but the clock; the number of queries does not grow with the rounds."""
    rounds = rounds_for_phone(actor)
    members = members_of(rounds)
    plots = {member.plot_id: member.plot for row in members.values() for member in row}
    baselines, counted = baselines_of(plots), counted_visits(rounds)
    pack = {
        "organisation": {"slug": actor.organisation.slug, "name": actor.organisation.name},
        "person": str(Role(actor.role).label),
        "emergency": emergency_numbers(actor.organisation, {plot.block.site for plot in plots.values()}),
        "species": species_list(actor.organisation),
        "rounds": [told_round(row, members[row.pk], baselines, counted) for row in rounds],
    }
    work = field_work(actor)
    return pack if work is None else {**pack, "work": work}


def members_of(rounds: list[SurveyRound]) -> dict[int, list[RoundPlot]]:
    """Return the plots of each round in the order a crew walks the list."""
    rows = (
        RoundPlot.objects.filter(round__in=rounds, plot__retired_at=None)
        .select_related("plot__block__site")
        .order_by("plot__block__name", "plot__name", "plot_id")
    )
    by_round: dict[int, list[RoundPlot]] = defaultdict(list)
    for row in rows:
        by_round[row.round_id].append(row)
    return by_round


def baselines_of(plots: Iterable[int]) -> dict[int, list[PlotBaseline]]:
    """Return the current baselines of each plot."""
    rows = PlotBaseline.objects.filter(plot__in=list(plots), is_current=True).select_related(
        "species", "cohort"
    )
    by_plot: dict[int, list[PlotBaseline]] = defaultdict(list)
    for row in rows.order_by("plot_id", "species__scientific_name", "id"):
        by_plot[row.plot_id].append(row)
    return by_plot


def counted_visits(rounds: list[SurveyRound]) -> dict[tuple[int | None, int], Visit]:
    """Return the counting visit of each plot in each round."""
    rows = Visit.objects.filter(round__in=rounds, is_counting=True).only("root", "uid", "round_id", "plot_id")
    return {(row.round_id, row.plot_id): row for row in rows}


def emergency_numbers(organisation: Organisation, sites: set[Site]) -> str:
    """Return the number to call; where sites differ, each with its site, so that nobody calls another country."""
    numbers = {site.name: site.emergency_contact or organisation.emergency_contact for site in sites}
    different = {number for number in numbers.values() if number}
    if len(different) < 2:
        return different.pop() if different else organisation.emergency_contact
    return " · ".join(f"{name}: {number}" for name, number in sorted(numbers.items()) if number)


def species_list(organisation: Organisation) -> list[Pack]:
    """Return every species a crew may name, with its main name in each language and where it is invasive."""
    names = SpeciesName.objects.filter(is_main=True).order_by("language")
    invasive = standing_ranges(organisation.uid).filter(status=RangeStatus.Status.INVASIVE)
    rows = visible_species(organisation).prefetch_related(
        Prefetch("names", names, to_attr="main_names"),
        Prefetch("range_statuses", invasive.order_by("country_code"), to_attr="invasions"),
    )
    return [told_species(row) for row in rows.order_by("scientific_name", "id")]


def told_species(species: Species) -> Pack:
    return {
        "slug": species.slug,
        "scientific_name": species.scientific_name,
        "names": {name.language: name.name for name in species.main_names},
        "invasive_in": sorted({row.country_code for row in species.invasions}),
    }


def told_round(
    row: SurveyRound,
    members: list[RoundPlot],
    baselines: dict[int, list[PlotBaseline]],
    counted: dict[tuple[int | None, int], Visit],
) -> Pack:
    return {
        "uid": str(row.uid),
        "name": row.name,
        "opens_on": row.opens_on.isoformat(),
        "closes_on": row.closes_on.isoformat(),
        "protocol": row.protocol,
        "country": members[0].plot.block.site.country_code if members else "",
        "plots": [
            told_plot(one.plot, baselines[one.plot_id], counted.get((row.pk, one.plot_id))) for one in members
        ],
    }


def told_plot(plot: SurvivalPlot, baselines: list[PlotBaseline], visit: Visit | None) -> Pack:
    facts = (
        "name",
        "latitude",
        "longitude",
        "shape",
        "radius_m",
        "length_m",
        "width_m",
        "spots",
        "directions",
    )
    return {
        "uid": str(plot.uid),
        **{name: getattr(plot, name) for name in facts},
        "block": {"uid": str(plot.block.uid), "name": plot.block.name},
        "site": {"uid": str(plot.block.site.uid), "name": plot.block.site.name},
        "unit": unit_of(baselines),
        "baselines": [told_baseline(row) for row in baselines],
        "counted": visit is not None,
        "last": {"visit": str(visit.root), "head": str(visit.uid)} if visit else None,
    }


def unit_of(baselines: list[PlotBaseline]) -> str:
    """Return the unit a new line of the plot starts with: that of its first baseline."""
    return baselines[0].unit if baselines else "tree"


def told_baseline(row: PlotBaseline) -> Pack:
    return {
        "uid": str(row.line),
        "species": row.species.slug,
        "planted": row.planted,
        "unit": row.unit,
        "cohort": row.cohort.label.removeprefix(f"{row.species.scientific_name}, ") if row.cohort else "",
        "source": row.source,
        "counted_on": row.counted_on.isoformat() if row.counted_on else None,
    }
