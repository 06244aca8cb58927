"""A site's assessment as pages show it: steps with what is missing, and what the circles of young trees say."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import access, figures
from projects import assessment_steps as steps
from projects import readiness_words as words
from projects.access import Actor
from projects.calc import regeneration as calc
from projects.calc.readiness import YES
from projects.forms.assessment import STEP_FORMS
from projects.models import RegenerationCircle, Site, SiteAssessment
from projects.selectors.readiness import SiteReadiness


@dataclass(frozen=True)
class StepRow:
    """One step: what is there and what is missing, in words."""

    step: steps.Step
    filled: str
    missing: Sequence[str]
    is_unsaved: bool

    @property
    def is_complete(self) -> bool:
        return not self.missing and not self.is_unsaved


@dataclass(frozen=True)
class Regeneration:
    """What the circles say about one piece of ground."""

    name: str
    n_circles: int
    n_trees: int
    estimate: Mapping[str, Any]
    why_no_interval: str
    wanted_per_ha: int | None
    scale: float
    advice: calc.Advice | None
    course: str


def assessment_of(site: Site) -> SiteAssessment:
    """The site's assessment, or an empty one that is not stored."""
    row = SiteAssessment.objects.filter(site=site).first()
    return row or SiteAssessment(site=site, organisation=site.organisation)


def step_rows(actor: Actor, site: Site, assessment: SiteAssessment, ready: SiteReadiness) -> list[StepRow]:
    """Every step in order."""
    samples = access.visible_soil_samples(actor).filter(site=site).count()
    circles = access.visible_circles(actor).filter(site=site).count()
    lists = {
        "soil": _count(samples, ngettext("%(n)s sample", "%(n)s samples", samples), _("a soil sample")),
        "circles": _count(circles, ngettext("%(n)s circle", "%(n)s circles", circles), _("a counted circle")),
        "consents": _of_consents(ready),
        "climate": _of_climate(site),
    }
    return [_step_row(site, assessment, step, lists.get(step.key)) for step in steps.STEPS]


def _count(number: int, said: str, lacking: str) -> tuple[str, list[str]]:
    return (said % {"n": figures.quantity(number)}, []) if number else ("", [lacking])


def _of_consents(ready: SiteReadiness) -> tuple[str, list[str]]:
    lacking = [row.title for row in ready.stops if row.key in ("tenure", "consent") and row.blocks]
    number = len(ready.consents)
    said = ngettext("%(n)s entry", "%(n)s entries", number) % {"n": figures.quantity(number)}
    return (said if number else "", lacking)


def _of_climate(site: Site) -> tuple[str, list[str]]:
    if site.climate_normals:
        return site.climate_source or _("normals entered"), []
    return "", [_("monthly normals")]


def _step_row(
    site: Site, assessment: SiteAssessment, step: steps.Step, listed: tuple[str, list[str]] | None
) -> StepRow:
    values = steps.values_of(site, assessment, step.fields)
    missing = [name for name in step.needed if values[name] in (None, "", "not_known")]
    said = [listed[0]] if listed and listed[0] else []
    there = len(step.needed) - len(missing)
    if step.needed and listed is None:
        numbers = {"there": there, "all": len(step.needed)}
        said.append(_("%(there)s of %(all)s answers") % numbers)
    kept = any(key.split(":")[0] == step.key for key in assessment.unsaved)
    lacking = [*(listed[1] if listed else []), *(label_of(step, name) for name in missing)]
    return StepRow(step, ", ".join(said), lacking, kept)


def label_of(step: steps.Step, name: str) -> str:
    """What the form calls a field; a hard stop by its short title."""
    if name in words.TITLES:
        return str(words.TITLES[name])
    label = str(STEP_FORMS[step.key].base_fields[name].label)
    return label[:1].lower() + label[1:]


def latest(circles: Iterable[RegenerationCircle]) -> list[RegenerationCircle]:
    """Of every circle its newest count: one counted twice is still one circle."""
    newest: dict[str, RegenerationCircle] = {}
    for circle in sorted(circles, key=lambda row: (row.counted_on, row.pk)):
        newest[circle.label] = circle
    return list(newest.values())


def regeneration(
    site: Site, assessment: SiteAssessment, circles: Sequence[RegenerationCircle]
) -> list[Regeneration]:
    """The whole site first, then every block that has circles of its own."""
    newest = latest(circles)
    blocks = {circle.block_id: circle.block for circle in newest if circle.block is not None}
    rows = [_of_ground(_("The whole site"), assessment, newest)]
    for key, block in sorted(blocks.items(), key=lambda pair: (str(pair[1]), pair[0])):
        rows.append(_of_ground(str(block), assessment, [row for row in newest if row.block_id == key]))
    return rows


def _of_ground(name: str, assessment: SiteAssessment, circles: list[RegenerationCircle]) -> Regeneration:
    found = calc.density([row.count for row in circles], [row.radius_m for row in circles])
    wanted = assessment.wanted_regenerants_per_ha
    told = None
    if wanted:
        costly, held = (assessment.answers.get(key) == YES for key in (steps.COSTLY, steps.HELD_BACK))
        told = calc.advice(found, wanted, shortfall_is_costly=costly, is_held_back=held)
    return Regeneration(
        name=name,
        n_circles=found.n_circles,
        n_trees=found.n_trees,
        estimate={
            "value": found.value, "lower": found.lower, "upper": found.upper, "level": found.level,
            "measure": "young_natural_trees",
        },
        why_no_interval=str(words.NO_INTERVAL.get(found.reason, "")),
        wanted_per_ha=wanted,
        scale=1.1 * max(found.upper or 0, found.value or 0, wanted or 0, 1),
        advice=told,
        course=str(words.COURSES[told.course]) if told else "",
    )  # fmt: skip


def usual_radius_m(actor: Actor, site: Site) -> float | None:
    """The radius of the circle added last, so that it is typed once."""
    newest = access.visible_circles(actor).filter(site=site).order_by("-id").first()
    return newest.radius_m if newest else None
