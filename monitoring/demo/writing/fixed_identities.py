"""Give new rows the identities of the scenario while the demo is written.

Services make rows with identities of their own; a signal before the first save puts the scenario's name-based
identity in place, so that history, addresses and phone records all carry the same one.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db.models.signals import pre_save

from monitoring import models as m
from monitoring.demo.identities import identity
from projects import models as p

Names = Callable[[Any], tuple[object, ...]]

NATURAL: dict[type, Names] = {
    p.Person: lambda row: (row.name,),
    p.Membership: lambda row: (row.user.email,),
    p.Project: lambda row: (row.name,),
    p.Site: lambda row: (row.name,),
    p.Block: lambda row: (row.name,),
    p.SiteAssessment: lambda row: (row.site.name,),
    p.CrewDay: lambda row: (row.block.name, row.day),
    p.Walk: lambda row: (row.block.name, row.walked_on),
    p.Plan: lambda row: (row.project.name, row.version),
    p.SeedTree: lambda row: (row.site.name, row.label),
    p.SeedCollection: lambda row: (row.seed_lot,),
    p.SoilSample: lambda row: (row.site.name, row.label),
    p.RegenerationCircle: lambda row: (row.site.name, row.label, row.counted_on),
    p.ReadinessOverride: lambda row: (row.site.name, row.stop),
    p.Holding: lambda row: (row.block.name, row.label),
    p.Season: lambda row: (row.kind, row.label),
    p.Nursery: lambda row: (row.name,),
    p.StockLot: lambda row: (row.code,),
    p.Cohort: lambda row: (row.block.name, row.lot.code if row.lot else row.species.slug, row.season.label),
    m.PlotDraw: lambda row: (row.block.name, row.stage),
    m.SurvivalPlot: lambda row: (row.block.name, row.name),
    m.SurveyRound: lambda row: (row.name,),
    m.LossCause: lambda row: (row.round.name, row.block.name, row.cause),
}
NUMBERED = {
    p.BlockGround, p.PlantingDay, p.LotMovement, p.LotStorage, p.StockTake, p.StockOrder, p.OrderLine, p.Delivery,
    p.PlantingWindow, p.BudgetLine, p.CareTask, p.Consent, p.FieldPass, m.SeasonSummary, p.ExpectedBenefit, p.DayRule,
    p.MixLine, p.LotCheck, p.Paper, p.QualityCheck, p.Sighting, p.SiteEvent, p.LineSubstitute,
}  # fmt: skip


@contextmanager
def fixed_identities(slug: str) -> Iterator[None]:
    """Name rows made inside after the scenario; rows without a name of their own are numbered as they come."""
    made: Counter[str] = Counter()

    def give(sender: type, instance: Any, **_signal: Any) -> None:
        if not instance._state.adding or (sender not in NATURAL and sender not in NUMBERED):
            return
        kind = instance._meta.model_name
        made[kind] += 1
        names = NATURAL[sender](instance) if sender in NATURAL else (made[kind],)
        instance.uid = identity(slug, kind, *names)

    pre_save.connect(give, weak=False)
    try:
        yield
    finally:
        pre_save.disconnect(give)
