"""The weekly letter: what needs deciding, once a week to each member who wants it, however often the clock strikes.

A letter is claimed by its own row before it is sent: the row of a member and a week exists once, so of two beats or
two workers one sends. Mail that did not leave is recorded and tried again. A claim whose worker died is taken again
once, half an hour later: where that worker died after the mail had left, and before it could say so, the member
gets the letter twice; the other choice would be none at all.
"""

import logging
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from django.core import signing
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor, member_actor, service_actor
from projects.errors import Refusal
from projects.models import LetterChoice, LetterState, Membership, Organisation, Role, WeeklyLetter
from projects.selectors import weekly_letter as content
from projects.services import weekly_letter_mail as mail

logger = logging.getLogger(__name__)

WANTED_BY_DEFAULT = frozenset({Role.MANAGER, Role.FIELD_LEAD})
SEND_AT = time(7)  # on Mondays, on the organisation's clock
SEND_WITHIN = timedelta(
    hours=48
)  # a service that was down sends late until then; afterwards the list says it all
LEASE = timedelta(minutes=30)
PAUSE = timedelta(minutes=30)  # before mail that did not leave is tried again
TAKEN_AGAIN = ["taken again", ""]  # stands in `told` of a claim whose first worker never came back
SALT = "projects.weekly_letter"


# --- who wants it ---------------------------------------------------------------------------
def is_wanted(membership: Membership) -> bool:
    """Whether a member wants the letter: as they chose, else as their role has it."""
    choice = LetterChoice.objects.filter(membership=membership).first()
    return membership.role in WANTED_BY_DEFAULT if choice is None else choice.wanted


@transaction.atomic
def choose(*, actor: Actor, wanted: bool) -> LetterChoice:
    """Say whether the acting member wants the letter."""
    actor.require("letter.choose")
    if actor.membership is None:
        raise Refusal(_("Only a member can have the letter."), code="no_member")
    return _choose(actor, actor.membership, wanted)


def _choose(actor: Actor, membership: Membership, wanted: bool) -> LetterChoice:
    before = is_wanted(membership)
    row, _made = LetterChoice.objects.update_or_create(
        organisation=membership.organisation, membership=membership,
        defaults={"wanted": wanted, "changed_at": timezone.now()},
    )  # fmt: skip
    if before != wanted:
        history.record(actor, "letter_choice.edited", row, change={"wanted": [before, wanted]})
    return row


def stop_token(membership: Membership) -> str:
    """A signed word that stops this member's letter and does nothing else; it does not run out."""
    return signing.dumps(str(membership.uid), salt=SALT)


def stopped_by(token: str) -> Membership | None:
    """The member whose letter a signed word stops; None where it is not ours."""
    try:
        uid = signing.loads(token, salt=SALT)
    except signing.BadSignature:
        return None
    return Membership.objects.filter(uid=uid).select_related("organisation").first()


@transaction.atomic
def stop(membership: Membership) -> LetterChoice:
    """Stop a member's letter, as its unsubscribe address asks; done twice, nothing more happens."""
    return _choose(service_actor(membership.organisation, "letter"), membership, wanted=False)


# --- sending --------------------------------------------------------------------------------
def week_of(organisation: Organisation, now: datetime) -> date | None:
    """The Monday whose letter is to be sent now, on the organisation's clock; None at other times."""
    zone = clocks.zone(organisation.time_zone)
    here = now.astimezone(zone)
    monday = here.date() - timedelta(days=here.weekday())
    due = datetime.combine(monday, SEND_AT, tzinfo=zone)
    return monday if due <= now < due + SEND_WITHIN else None


def send_due(now: datetime | None = None) -> int:
    """Send every letter that is due and nobody has sent; return how many left. Nobody of a demo is real."""
    now = now or timezone.now()
    sent = 0
    for organisation in Organisation.objects.filter(is_demo=False).order_by("id"):
        week_on = week_of(organisation, now)
        if week_on is not None:
            sent += sum(send(member, week_on, now) for member in _who_want_it(organisation))
    return sent


def _who_want_it(organisation: Organisation) -> Iterator[Membership]:
    rows = Membership.objects.filter(
        organisation=organisation, ended_at__isnull=True, user__is_active=True, person__erased_at__isnull=True
    )
    chosen = dict(
        LetterChoice.objects.filter(organisation=organisation).values_list("membership_id", "wanted")
    )
    for member in rows.select_related("organisation", "person", "user").order_by("id"):
        if chosen.get(member.pk, member.role in WANTED_BY_DEFAULT):
            yield member


def send(member: Membership, week_on: date, now: datetime) -> bool:
    """Send one member the letter of a week, unless it was sent or somebody is at it; return whether it left."""
    letter = claim(member, week_on, now)
    if letter is None:
        return False
    try:
        read = content.letter_for(member_actor(member), week_on)
        if read.is_empty:
            _end(letter, LetterState.SENT)  # nothing to say this week, and so nothing sent
            return False
        mail.send(member, read, stop_token(member))
    except Exception:  # whatever kept it back, the others get theirs
        logger.exception("The letter of membership %s did not leave; it is tried again.", member.uid)
        _end(letter, LetterState.FAILED)
        return False
    _end(letter, LetterState.SENT, sent_at=timezone.now(), told=read.told)
    return True


def _end(letter: WeeklyLetter, state: LetterState, **values: object) -> None:
    WeeklyLetter.objects.filter(pk=letter.pk).update(state=state, **values)


def claim(member: Membership, week_on: date, now: datetime) -> WeeklyLetter | None:
    """Take the letter of a member and week for oneself; None when it is not to be had."""
    try:
        with transaction.atomic():
            return WeeklyLetter.objects.create(
                organisation=member.organisation, membership=member, week_on=week_on, claimed_at=now
            )
    except IntegrityError:
        return _claim_again(member, week_on, now)


def _claim_again(member: Membership, week_on: date, now: datetime) -> WeeklyLetter | None:
    """Take a letter that did not leave, or once a claim that nobody came back to."""
    letter = WeeklyLetter.objects.filter(membership=member, week_on=week_on).first()
    if letter is None or letter.state == LetterState.SENT:
        return None
    failed = letter.state == LetterState.FAILED
    if now < letter.claimed_at + (PAUSE if failed else LEASE):
        return None
    if not failed and TAKEN_AGAIN in letter.told:
        return None
    told = letter.told if failed else [*letter.told, TAKEN_AGAIN]
    won = WeeklyLetter.objects.filter(pk=letter.pk, state=letter.state, claimed_at=letter.claimed_at).update(
        state=LetterState.CLAIMED, claimed_at=now, told=told
    )
    return letter if won else None
