from monitoring.models.plots import (
    BaselineSource,
    FieldPassRound,
    PlotBaseline,
    RoundBlock,
    RoundPlot,
    RoundStatus,
    Selection,
    Shape,
    SurveyRound,
    SurvivalPlot,
)
from monitoring.models.results import (
    DirtyKey,
    Estimate,
    PerformanceRow,
    ReplacementNeed,
    Scope,
    SeasonSummary,
    Upload,
)
from monitoring.models.visits import (
    Case,
    CaseKind,
    CountLine,
    HeightClass,
    PlotStatus,
    Purpose,
    RegenerationLine,
    Removal,
    Visit,
)

__all__ = [
    "BaselineSource", "Case", "CaseKind", "CountLine", "DirtyKey", "Estimate", "FieldPassRound",
    "HeightClass", "PerformanceRow", "PlotBaseline", "PlotStatus", "Purpose", "RegenerationLine",
    "Removal", "ReplacementNeed", "RoundBlock", "RoundPlot", "RoundStatus", "Scope", "SeasonSummary",
    "Selection", "Shape", "SurveyRound", "SurvivalPlot", "Upload", "Visit",
]
