"""Whether a site is ready to be planned, and which agreements end."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from projects import readiness_words as words
from projects.calc import readiness as calc
from projects.models import Consent, ReadinessOverride, Site, SiteAssessment


@dataclass(frozen=True)
class StopRow:
    """A hard stop with its words and, where somebody answers for it, who."""

    key: str
    title: str
    state: str
    state_words: str
    blocks: bool
    override: ReadinessOverride | None


@dataclass(frozen=True)
class ConsentRow:
    """An agreement and how it stands today."""

    consent: Consent
    state: str
    state_words: str


@dataclass(frozen=True)
class SiteReadiness:
    """What pages show of a site's readiness."""

    stops: Sequence[StopRow]
    consents: Sequence[ConsentRow]
    blocking: Sequence[calc.Stop]
    is_ready: bool

    @property
    def standing(self) -> list[StopRow]:
        return [row for row in self.stops if row.state == calc.STANDS]

    @property
    def unknown(self) -> list[StopRow]:
        return [row for row in self.stops if row.state == calc.UNKNOWN]

    @property
    def overridden(self) -> list[StopRow]:
        return [row for row in self.stops if row.state == calc.OVERRIDDEN]

    @property
    def cleared(self) -> list[StopRow]:
        return [row for row in self.stops if row.state == calc.CLEAR]

    @property
    def ending(self) -> list[ConsentRow]:
        """Agreements that ended, or end soon."""
        return [row for row in self.consents if row.state in (calc.ENDED, calc.ENDS_SOON)]


def readiness_of(site: Site, today: date) -> SiteReadiness:
    """Judge a site from its answers, agreements and overrides; three queries."""
    return readiness_of_sites([site], {site.pk: today})[site.pk]


def readiness_of_sites(sites: Iterable[Site], today: Mapping[int, date]) -> dict[int, SiteReadiness]:
    """Judge several sites, each on its own day, in three queries whatever their number."""
    ids = [site.pk for site in sites]
    answers = dict(SiteAssessment.objects.filter(site_id__in=ids).values_list("site_id", "answers"))
    consents: dict[int, list[Consent]] = {pk: [] for pk in ids}
    for row in Consent.objects.filter(site_id__in=ids):
        consents[row.site_id].append(row)
    overrides: dict[int, dict[str, ReadinessOverride]] = {pk: {} for pk in ids}
    given = ReadinessOverride.objects.filter(site_id__in=ids, withdrawn_at__isnull=True)
    for by in given.select_related("approved_by"):
        overrides[by.site_id][by.stop] = by
    return {pk: _judged(answers.get(pk) or {}, consents[pk], overrides[pk], today[pk]) for pk in ids}


def _judged(
    answers: dict[str, str], consents: list[Consent], overrides: dict[str, ReadinessOverride], today: date
) -> SiteReadiness:
    given = [(row, _agreement(row)) for row in consents]
    found = calc.readiness(answers, [agreement for _row, agreement in given], overrides, today)
    return SiteReadiness(
        stops=[_row(stop, overrides) for stop in found.stops],
        consents=[_consent_row(row, calc.agreement_state(agreement, today)) for row, agreement in given],
        blocking=found.blocking,
        is_ready=found.is_ready,
    )


def _agreement(row: Consent) -> calc.Agreement:
    return calc.Agreement(row.kind, row.given_on, row.expires_on, row.withdrawn_on)


def _consent_row(row: Consent, state: str) -> ConsentRow:
    return ConsentRow(row, state, str(words.AGREEMENT_STATES[state]))


def _row(stop: calc.Stop, overrides: dict[str, ReadinessOverride]) -> StopRow:
    by = overrides.get(stop.key) if stop.state == calc.OVERRIDDEN else None
    return StopRow(
        stop.key, str(words.TITLES[stop.key]), stop.state, str(words.STATES[stop.state]), stop.blocks, by
    )
