"""Whether a site is ready to be planned: which hard stops stand, are not known, or are answered for by a manager.

Source: the list of hard stops is common practice of site assessment; permits and plans are listed deliverables of
NRCS conservation practices 490 and 612.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

YES, NO, NOT_KNOWN = "yes", "no", "not_known"
STANDS, UNKNOWN, CLEAR, OVERRIDDEN = "stands", "unknown", "clear", "overridden"
NOT_BEGUN, IN_FORCE, ENDS_SOON, ENDED, WITHDRAWN = "not_begun", "in_force", "ends_soon", "ended", "withdrawn"
SOON_DAYS = 90

TENURE, CONSENT = "tenure", "consent"
# Question -> the answer that stops.
QUESTIONS = {
    "native_grassland": YES,
    "peat": YES,
    "wetland": YES,
    "protected_habitat": YES,
    "services_checked": NO,
    "plant_health_notice": YES,
}
STOPS = (TENURE, CONSENT, *QUESTIONS)
# Kinds of agreement that each of the two stops asks for; any one of them in force clears it.
ASKS_FOR = {TENURE: frozenset({"tenure"}), CONSENT: frozenset({"consent", "community", "landholder"})}


@dataclass(frozen=True, slots=True)
class Agreement:
    """What was agreed, from when until when."""

    kind: str
    given_on: date
    expires_on: date | None = None
    withdrawn_on: date | None = None


@dataclass(frozen=True, slots=True)
class Stop:
    """One hard stop and how it stands."""

    key: str
    state: str

    @property
    def blocks(self) -> bool:
        """Whether planning should wait for it."""
        return self.state in (STANDS, UNKNOWN)


@dataclass(frozen=True, slots=True)
class Readiness:
    """All hard stops of a site, in their order."""

    stops: tuple[Stop, ...]

    @property
    def blocking(self) -> tuple[Stop, ...]:
        return tuple(stop for stop in self.stops if stop.blocks)

    @property
    def is_ready(self) -> bool:
        return not self.blocking


def agreement_state(agreement: Agreement, today: date, *, soon_days: int = SOON_DAYS) -> str:
    """How an agreement stands on a day; the last day still counts.

    >>> agreement_state(Agreement("permit", date(2025, 1, 1), date(2026, 1, 31)), date(2026, 1, 31))
    'ends_soon'
    >>> agreement_state(Agreement("permit", date(2025, 1, 1), date(2026, 1, 31)), date(2026, 2, 1))
    'ended'
    """
    if agreement.withdrawn_on is not None and agreement.withdrawn_on <= today:
        return WITHDRAWN
    if agreement.given_on > today:
        return NOT_BEGUN
    last = min((day for day in (agreement.expires_on, agreement.withdrawn_on) if day), default=None)
    if last is None:
        return IN_FORCE
    if last < today:
        return ENDED
    return ENDS_SOON if last <= today + timedelta(days=soon_days) else IN_FORCE


def renewed(agreement: Agreement, others: Iterable[Agreement]) -> bool:
    """Whether one of some others takes an agreement's place: of its kind, not withdrawn, and ending later or never.

    >>> old = Agreement("landholder", date(2020, 1, 1), date(2026, 1, 31))
    >>> renewed(old, [old, Agreement("landholder", date(2026, 1, 1), date(2031, 1, 31))]), renewed(old, [old])
    (True, False)
    """
    if agreement.expires_on is None:
        return False
    return any(
        other.kind == agreement.kind
        and other.withdrawn_on is None
        and (other.expires_on is None or other.expires_on > agreement.expires_on)
        for other in others
    )


def readiness(
    answers: Mapping[str, str], agreements: Iterable[Agreement], overridden: Collection[str], today: date
) -> Readiness:
    """Judge every hard stop. A question without an answer is not known, and what is not known is not clear.

    Parameters
    ----------
    answers : mapping
        Question of `QUESTIONS` -> `yes`, `no` or `not_known`.
    overridden : collection of str
        Stops a named manager answers for.

    >>> found = readiness({"peat": "yes"}, [], {"peat"}, date(2026, 1, 1))
    >>> {stop.key: stop.state for stop in found.stops}["peat"], found.is_ready
    ('overridden', False)
    """
    given = list(agreements)
    states = {stop: _by_agreements(kinds, given, today) for stop, kinds in ASKS_FOR.items()}
    states |= {question: _by_answer(question, answers.get(question, "")) for question in QUESTIONS}
    return Readiness(
        tuple(
            Stop(key, OVERRIDDEN if states[key] != CLEAR and key in overridden else states[key])
            for key in STOPS
        )
    )


def _by_answer(question: str, answer: str) -> str:
    if answer not in (YES, NO):
        return UNKNOWN
    return STANDS if answer == QUESTIONS[question] else CLEAR


def _by_agreements(kinds: Collection[str], agreements: list[Agreement], today: date) -> str:
    of_kind = [agreement for agreement in agreements if agreement.kind in kinds]
    if not of_kind:
        return UNKNOWN
    in_force = any(agreement_state(each, today) in (IN_FORCE, ENDS_SOON) for each in of_kind)
    return CLEAR if in_force else STANDS
