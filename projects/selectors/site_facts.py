"""What a block offers to a tree: numbers and words from its site's normals, soil samples and assessment."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from projects.calc.climate_summary import climate_summary
from projects.models import Block, SiteAssessment, SoilSample

Fact = float | str


@dataclass(frozen=True)
class SiteFacts:
    """Facts by the names `species.calc.suitability` knows, and where each comes from."""

    facts: Mapping[str, Fact]
    n_samples: int
    climate_source: str


def facts_of(block: Block) -> SiteFacts:
    """Gather what is known; what is not is left out, never filled in.

    Samples of the block itself are used alone where there are any, else those of the site: means of numbers,
    the commonest word.
    """
    found: dict[str, Fact] = {}
    normals = block.site.climate_normals
    if normals:
        summary = climate_summary(normals["mean_minimum_c"], normals["mean_maximum_c"], normals["rain_mm"])
        found |= {
            "rain_mm": summary.rain_mm,
            "coldest_month_c": summary.coldest_month_c,
            "hottest_month_c": summary.hottest_month_c,
            "dry_months": float(summary.dry_months),
        }
    if block.site.elevation_m is not None:
        found["altitude_m"] = float(block.site.elevation_m)
    samples = samples_for(block)
    found |= of_samples(samples)
    assessment = SiteAssessment.objects.filter(site=block.site).first()
    if assessment is not None:
        found |= {name: value for name, value in of_assessment(assessment).items() if value not in (None, "")}
    return SiteFacts(found, len(samples), block.site.climate_source)


def samples_for(block: Block) -> list[SoilSample]:
    """The block's own samples, else those of its site."""
    rows = list(SoilSample.objects.filter(site=block.site).order_by("id"))
    return [row for row in rows if row.block_id == block.pk] or [row for row in rows if row.block_id is None]


def of_samples(samples: Sequence[SoilSample]) -> dict[str, Fact]:
    """Mean pH and depth, commonest texture and drainage."""
    numbers = {"soil_ph": [s.ph for s in samples], "soil_depth_cm": [s.depth_cm for s in samples]}
    words = {"soil_texture": [s.texture for s in samples], "drainage": [s.drainage for s in samples]}
    found: dict[str, Fact] = {}
    for name, values in numbers.items():
        if known := [value for value in values if value is not None]:
            found[name] = sum(known) / len(known)
    for name, values in words.items():
        if known := sorted(value for value in values if value):
            found[name] = Counter(known).most_common(1)[0][0]
    return found


def of_assessment(assessment: SiteAssessment) -> dict[str, Fact | None]:
    """Light and salinity as assessed."""
    return {"light": assessment.light, "salinity_ds_per_m": assessment.salinity_ds_per_m}
