"""The demo's assessed site, written through the services a person would use."""

from datetime import date, timedelta

from monitoring.demo import serra_assessment as plan
from projects.access import Actor
from projects.assessment_steps import WITH_FORM
from projects.models import Site
from projects.services import assessment, consents, site_findings


def write_assessment(actor: Actor, today: date) -> None:
    """Assess one site: every step, samples and circles, agreements, and the stop a manager answers for."""
    site = Site.objects.get(organisation=actor.organisation, name=plan.SITE)
    for key, values in plan.STEPS.items():
        assessment.save_step(actor=actor, site=site, step=WITH_FORM[key], **values)
    for sample in plan.SAMPLES:
        site_findings.add_sample(actor=actor, site=site, taken_on=plan.VISITED_ON, **sample)
    for number, count in enumerate(plan.CIRCLES, start=1):
        site_findings.add_circle(
            actor=actor, site=site, label=f"C{number}", counted_on=plan.VISITED_ON,
            radius_m=plan.CIRCLE_RADIUS_M, count=count,
        )  # fmt: skip
    write_agreements(actor, site, today)
    for stop, reason in plan.OVERRIDES.items():
        consents.override_stop(actor=actor, site=site, stop=stop, reason=reason)
    assessment.finish(actor=actor, site=site)


def write_agreements(actor: Actor, site: Site, today: date) -> None:
    """Write who agreed to what; an end is counted from the day of loading, so that it stays near."""
    for row in plan.AGREEMENTS:
        values = {name: value for name, value in vars(row).items() if name != "days_left"}
        ends = None if row.days_left is None else today + timedelta(days=row.days_left)
        consents.add_consent(actor=actor, site=site, expires_on=ends, **values)
