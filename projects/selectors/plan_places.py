"""What a plan's document says of sites and blocks: plain data, read in a fixed number of queries."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from projects.access import Actor
from projects.calc.climate_summary import climate_summary
from projects.calc.diversity import effective_species, inverse_simpson
from projects.calc.geometry import centre
from projects.calc.plan_map import draw_map
from projects.countries import country_name
from projects.documents.names import named
from projects.models import Consent, MixLine, Site, SiteAssessment, SoilSample
from projects.selectors.plan_sums import PlanSums, chances_in
from projects.selectors.plan_targets import Expected
from projects.selectors.plan_windows import windows_of_blocks
from projects.selectors.plans import Ground, PlanFrame
from projects.selectors.readiness import SiteReadiness, readiness_of_sites
from projects.selectors.site_facts import of_samples
from species.access import standing_ranges
from species.models import RangeStatus
from species.selectors.facts import vernacular_names
from species.traits import DRAINAGES, LIGHTS, TEXTURES

UNKNOWN = str(RangeStatus.Status.UNKNOWN)


def places_of(actor: Actor, frame: PlanFrame, sums: PlanSums) -> dict[str, Any]:
    """Sites with their blocks, in the order the document prints them."""
    numbers = {each.block.pk: number for number, each in enumerate(frame.meant, 1)}
    return {
        "sites": sites_of(frame, numbers, actor.organisation.units),
        "blocks": blocks_of(actor, frame, numbers, sums),
    }


def sites_of(frame: PlanFrame, numbers: dict[int, int], units: str) -> list[dict[str, Any]]:
    sites = frame.sites
    ids = [site.pk for site in sites]
    ready = readiness_of_sites(sites, frame.days)
    assessments = {row.site_id: row for row in SiteAssessment.objects.filter(site_id__in=ids)}
    samples: dict[int, list[SoilSample]] = {pk: [] for pk in ids}
    for sample in SoilSample.objects.filter(site_id__in=ids).order_by("id"):
        samples[sample.site_id].append(sample)
    return [
        _site(site, frame, numbers, ready[site.pk], assessments.get(site.pk), samples[site.pk], units)
        for site in sites
    ]


def _site(
    site: Site,
    frame: PlanFrame,
    numbers: dict[int, int],
    ready: SiteReadiness,
    assessment: SiteAssessment | None,
    samples: Sequence[SoilSample],
    units: str,
) -> dict[str, Any]:
    here = [each for each in frame.meant if each.block.site_id == site.pk]
    return {
        "uid": str(site.uid),
        "name": site.name,
        "country": country_name(site.country_code),
        "region": site.region,
        "area_ha": rounded(site.gross_area_ha),
        "planted_ha": rounded(sum(each.net_area_ha or 0 for each in here)),
        "elevation_m": site.elevation_m,
        "access": site.access_notes,
        "emergency": site.emergency_contact,
        "map": map_of(site, here, numbers, units),
        "agreements": [_agreement(row.consent, row.state, row.state_words) for row in ready.consents],
        "stops": [_stop(row) for row in ready.stops],
        "is_ready": ready.is_ready,
        "climate": climate_of(site),
        "soil": soil_of(samples),
        "ground": ground_of_site(assessment),
        "hazards": [text for text in [assessment.hazards if assessment else ""] if text.strip()],
    }


def map_of(
    site: Site, grounds: Sequence[Ground], numbers: dict[int, int], units: str
) -> dict[str, Any] | None:
    """The drawn map with its extent; None where neither the site nor a block has a boundary."""
    shapes = []
    for each in grounds:
        geometry = each.ground.geometry if each.ground else None
        if geometry:
            shapes.append((numbers[each.block.pk], geometry, centre(geometry)))
    drawn = draw_map(site.boundary, shapes, units=units)
    if drawn is None:
        return None
    extent = {name: round(getattr(drawn, name), 5) for name in ("south", "north", "west", "east")}
    return {
        "svg": drawn.svg, "scale_m": drawn.scale_m, "drawn": sorted(number for number, _shape, _at in shapes),
        "has_boundary": bool(site.boundary), **extent,
    }  # fmt: skip


def _agreement(row: Consent, state: str, state_words: str) -> dict[str, Any]:
    """An agreement without the names of who gave it: those are held in the records."""
    return {
        "kind": str(row.get_kind_display()), "reference": row.reference, "given_on": iso(row.given_on),
        "ends_on": iso(row.expires_on), "state": state, "state_words": state_words,
    }  # fmt: skip


def _stop(row: Any) -> dict[str, Any]:
    by = row.override
    return {
        "key": row.key, "title": row.title, "state": row.state, "state_words": row.state_words,
        "blocks": row.blocks,
        "override": None if by is None else {
            "by": named(by.approved_by), "on": iso(by.approved_at.date()), "reason": by.reason
        },
    }  # fmt: skip


def climate_of(site: Site) -> dict[str, Any] | None:
    normals = site.climate_normals
    if not normals:
        return None
    found = climate_summary(normals["mean_minimum_c"], normals["mean_maximum_c"], normals["rain_mm"])
    return {
        "rain_mm": rounded(found.rain_mm), "coldest_month_c": rounded(found.coldest_month_c),
        "hottest_month_c": rounded(found.hottest_month_c), "dry_months": found.dry_months,
        "source": site.climate_source,
    }  # fmt: skip


def soil_of(samples: Sequence[SoilSample]) -> dict[str, Any] | None:
    if not samples:
        return None
    found = of_samples(samples)
    return {
        "n": len(samples), "ph": rounded(found.get("soil_ph")), "depth_cm": rounded(found.get("soil_depth_cm")),
        "texture": word(TEXTURES, found.get("soil_texture")), "drainage": word(DRAINAGES, found.get("drainage")),
    }  # fmt: skip


def ground_of_site(assessment: SiteAssessment | None) -> dict[str, Any] | None:
    if assessment is None:
        return None
    return {
        "was": assessment.land_use_history, "grows_now": assessment.present_vegetation,
        "competes": assessment.competing_vegetation, "trees": assessment.existing_species,
        "aspect": str(assessment.get_aspect_display()) if assessment.aspect else "",
        "slope_percent": rounded(assessment.slope_percent), "light": word(LIGHTS, assessment.light),
        "seed_source_m": rounded(assessment.seed_source_m), "visited_on": iso(assessment.visited_on),
    }  # fmt: skip


# --- blocks -------------------------------------------------------------------------------------
def blocks_of(
    actor: Actor, frame: PlanFrame, numbers: dict[int, int], sums: PlanSums
) -> list[dict[str, Any]]:
    names = vernacular_names(line.species_id for line in frame.lines)
    statuses = statuses_of(actor, frame)
    windows, chances = windows_of_blocks(frame), chances_in(sums)
    found = []
    for each in frame.meant:
        block = each.block
        counts = by_species(each)
        found.append(
            {
                "uid": str(block.uid), "number": numbers[block.pk], "name": block.name,
                "site": block.site.name, "site_uid": str(block.site.uid),
                "net_area_ha": rounded(each.net_area_ha), "pattern": str(block.get_pattern_display()),
                "row_spacing_m": rounded(block.row_spacing_m), "in_row_spacing_m": rounded(block.in_row_spacing_m),
                "per_ha": None if each.stated else rounded(each.per_ha), "spots": each.spots,
                "target_per_ha": block.target_stocking_per_ha or block.project.target_stocking_per_ha,
                "aspect": block.aspect_note, "hazards": block.hazards, "plants": each.planted,
                "species": len({line.species_id for line in each.lines}),
                "effective_species": rounded(effective_species(counts)) if counts else None,
                "inverse_simpson": rounded(inverse_simpson(counts)) if counts else None,
                "lines": [_line(line, each, names, statuses, sums.expected[line.pk]) for line in each.lines],
                "chance": chances.get(block.pk), "planted_before": each.planted_before,
                "windows": windows[block.pk],
            }
        )  # fmt: skip
    return found


def by_species(each: Ground) -> list[int]:
    """Plants of each species, its stock types and waves together."""
    sums: dict[int, int] = {}
    for line in each.lines:
        sums[line.species_id] = sums.get(line.species_id, 0) + line.quantity
    return list(sums.values())


def _line(
    line: MixLine,
    each: Ground,
    names: dict[int, str],
    statuses: dict[tuple[int, int], str],
    survival: Expected,
) -> dict[str, Any]:
    return {
        "species": line.species.scientific_name, "name": names.get(line.species_id, ""),
        "slug": line.species.slug, "status": statuses.get((line.species_id, each.block.site_id), UNKNOWN),
        "stock_type": line.stock_type, "stock_words": str(line.get_stock_type_display()), "wave": line.wave,
        "quantity": line.quantity, "share": rounded(line.quantity / each.planted),
        "survival_mean": None if survival.is_missing else rounded(survival.mean),
        "survival_low": None if survival.is_missing else rounded(survival.low),
        "survival_high": None if survival.is_missing else rounded(survival.high),
        "survival_source": survival.source,
        "unit_price_minor": line.unit_price_minor, "currency": line.currency,
        "introduced_reason": line.introduced_reason,
    }  # fmt: skip


def statuses_of(actor: Actor, frame: PlanFrame) -> dict[tuple[int, int], str]:
    """Status of every species of the plan on every site, as the organisation holds it; one query."""
    wanted = {line.species_id for line in frame.lines}
    countries = {site.country_code for site in frame.sites}
    rows = standing_ranges(actor.organisation.uid).filter(species_id__in=wanted, country_code__in=countries)
    found: dict[tuple[int, str, str], str] = {
        (row.species_id, row.country_code, row.region): str(row.status) for row in rows
    }
    return {
        (species_id, site.pk): found.get(
            (species_id, site.country_code, site.region),
            found.get((species_id, site.country_code, ""), UNKNOWN),
        )
        for species_id in wanted
        for site in frame.sites
    }


def rounded(value: Any) -> float | None:
    """A float of a document: 6 decimals are finer than anything it rests on."""
    return None if value is None else round(float(value), 6)


def iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def word(choices: Any, key: Any) -> str:
    return str(choices[key]) if key in choices else ""
