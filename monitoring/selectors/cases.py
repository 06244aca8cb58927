"""What the page of one case shows: the visits it is about, the one it contradicts, and how far it can move a count."""

from dataclasses import dataclass

from monitoring.models import Case, CaseKind, PlotBaseline, PlotStatus, Visit


def visits_of_case(case: Case) -> list[Visit]:
    """The visits a case is about, with their lines: both counts where two people counted; none of a whole round."""
    if case.plot is None:
        return []
    rows = Visit.objects.filter(plot=case.plot, round=case.round, is_head=True)
    if case.visit_root != case.plot.uid:
        rows = rows.filter(root=case.visit_root)
    return list(rows.prefetch_related("lines__species").order_by("observed_on", "uid"))


def contradicted_visit(case: Case, visits: list[Visit]) -> Visit | None:
    """The count of another round before it, which a contradicting visit is held against."""
    if case.kind != CaseKind.CONTRADICTS or not visits:
        return None
    before = (
        Visit.objects.filter(plot=case.plot, is_counting=True, observed_on__lte=visits[0].observed_on)
        .exclude(round=case.round).exclude(status=PlotStatus.MISSING)
    )  # fmt: skip
    return (
        before.select_related("round")
        .prefetch_related("lines__species")
        .order_by("-observed_on", "-uid")
        .first()
    )


@dataclass(frozen=True)
class Between:
    """Living trees of some baselines, at the lowest and the highest reading of a case."""

    names: str
    low: int
    high: int


def ranges_of_case(case: Case) -> list[Between]:
    """How far an open case leaves each of its lines, by the species planted."""
    told = case.facts.get("ranges", []) if case.settled_seq is None else []
    wanted = {line for one in told for line in one["baselines"]}
    rows = PlotBaseline.objects.filter(plot=case.plot, line__in=wanted, is_current=True)
    names = {str(line): name for line, name in rows.values_list("line", "species__scientific_name")}
    return [
        Between(
            ", ".join(sorted({names[line] for line in one["baselines"] if line in names})),
            one["low"][0],
            one["high"][0],
        )
        for one in told
        if one["low"][0] != one["high"][0]
    ]
