"""Field passes: a code typed once on a phone becomes a credential that may add visits to named rounds.

Only hashes are kept. A code is short, so it is hashed with the service's own key, used once and expires;
the credential is 256 random bits, so a plain digest of it is enough.
"""

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from monitoring import access
from monitoring.models import FieldPassRound, RoundStatus, SurveyRound
from projects.access import Actor, field_pass_actor, visible_projects
from projects.errors import Refusal
from projects.history import record
from projects.models import FieldPass, FieldPassProject, Person, Project

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # neither I, L, O nor U: read aloud and typed without doubt
MISREAD = str.maketrans("ILO", "110")
CODE_LENGTH = 10  # 50 bits
CODE_DAYS = 7
MOST_DAYS = 400


@dataclass(frozen=True)
class Issued:
    """A pass with its code, which nobody can read again afterwards."""

    field_pass: FieldPass
    code: str


@dataclass(frozen=True)
class Enrolled:
    """A pass with the credential for the phone's cookie."""

    field_pass: FieldPass
    token: str


@transaction.atomic
def issue(
    *,
    actor: Actor,
    rounds: Sequence[SurveyRound],
    projects: Sequence[Project] = (),
    person: Person | None = None,
    person_name: str = "",
    label: str = "",
    valid_days: int | None = None,
) -> Issued:
    """Make a pass for one person's phone and return it with its code, shown this once.

    It may add counts to the rounds, and record hand-overs, walks and care in the projects. A volunteer
    without a record gets one from `person_name`; names stand nowhere else.
    """
    actor.require("field_pass.issue")
    days = settings.FIELD_PASS_DAYS if valid_days is None else valid_days
    refuse_days(days)
    refuse_projects(actor, projects)
    if rounds or not projects:
        refuse_rounds(actor, rounds)
    code, now = new_code(), timezone.now()
    field_pass = FieldPass.objects.create(
        organisation=actor.organisation,
        person=holder(actor, person, person_name),
        label=(label.strip() or _("phone"))[:120],
        issued_by=actor.person,
        issued_at=now,
        expires_at=now + timedelta(days=days),
        **code_fields(code, now),
    )
    FieldPassRound.objects.bulk_create(
        FieldPassRound(organisation=actor.organisation, field_pass=field_pass, round=row) for row in rounds
    )
    FieldPassProject.objects.bulk_create(
        FieldPassProject(organisation=actor.organisation, field_pass=field_pass, project=row)
        for row in projects
    )
    change = {"rounds": [[], [str(row.uid) for row in rounds]], "valid_days": [None, days]}
    if projects:
        change["projects"] = [[], [str(row.uid) for row in projects]]
    record(actor, "field_pass.issued", field_pass, change=change)
    return Issued(field_pass, shown_code(code))


@transaction.atomic
def renew_code(*, actor: Actor, field_pass: FieldPass) -> Issued:
    """Give a pass a new code. The phone that holds it now goes on until the new code is used."""
    actor.require("field_pass.issue")
    now = timezone.now()
    if not field_pass.is_valid(now):
        raise Refusal(
            _("This pass was revoked or is over. Issue a new one."), field="field_pass", code="pass_over"
        )
    code = new_code()
    change_pass(field_pass, **code_fields(code, now))
    record(actor, "field_pass.code_renewed", field_pass)
    return Issued(field_pass, shown_code(code))


@transaction.atomic
def revoke(*, actor: Actor, field_pass: FieldPass, reason: str = "") -> FieldPass:
    """End a pass at once. What its phone has not sent yet stays on the phone."""
    actor.require("field_pass.issue")
    if field_pass.revoked_at is None:
        change_pass(field_pass, revoked_at=timezone.now(), code_hash="", code_expires_at=None)
        record(actor, "field_pass.revoked", field_pass, reason=reason)
    return field_pass


@transaction.atomic
def enrol(*, code: str, device: str = "") -> Enrolled:
    """Exchange a code for a credential, once; a phone that held the pass before is signed off by it."""
    now = timezone.now()
    waiting = FieldPass.objects.select_for_update(of=("self",)).select_related("organisation", "person")
    field_pass = waiting.filter(code_hash=hashed_code(code), revoked_at=None).first()
    if field_pass is None:
        raise Refusal(
            _("This code is not known or was used before. Check each letter, or ask your field lead for a new one."),
            field="code", code="code_unknown",
        )  # fmt: skip
    if min(field_pass.code_expires_at or now, field_pass.expires_at) <= now:
        raise Refusal(
            _("This code is no longer valid. Ask your field lead for a new one."),
            field="code",
            code="code_expired",
        )
    token = secrets.token_urlsafe(32)
    change_pass(
        field_pass, credential_hash=hashed_token(token), code_hash="", code_expires_at=None,
        device=device[:200], enrolled_at=now,
    )  # fmt: skip
    record(actor_of(field_pass), "field_pass.enrolled", field_pass)
    return Enrolled(field_pass, token)


@transaction.atomic
def leave(*, actor: Actor) -> None:
    """Sign a phone off: its credential stops working; a new code for the same pass brings it back."""
    if actor.field_pass is not None:
        change_pass(actor.field_pass, credential_hash="")
        record(actor, "field_pass.left", actor.field_pass)


def pass_of(token: str) -> FieldPass:
    """Return the valid pass behind a phone's credential, or refuse with what to do."""
    rows = FieldPass.objects.select_related("organisation", "person")
    field_pass = rows.filter(credential_hash=hashed_token(token)).first()
    if field_pass is None:
        raise Refusal(
            _(
                "This phone is not signed in any more. Enter a code from your field lead; your counts stay here."
            ),
            code="pass_unknown",
        )
    if field_pass.revoked_at is not None:
        raise Refusal(
            _("This pass was ended by your field lead. Ask for a new code; your counts stay on this phone."),
            code="pass_revoked",
        )
    if not field_pass.is_valid(timezone.now()):
        raise Refusal(
            _("This pass is over. Ask your field lead for a new code; your counts stay on this phone."),
            code="pass_expired",
        )
    return field_pass


def actor_of(field_pass: FieldPass) -> Actor:
    """Return who asks when a phone does: a volunteer in the projects of the pass's rounds."""
    granted = SurveyRound.objects.filter(field_pass_grants__field_pass=field_pass)
    return field_pass_actor(field_pass, frozenset(granted.values_list("project_id", flat=True)))


# --- parts ----------------------------------------------------------------------------------
def refuse_days(days: int) -> None:
    if not 1 <= days <= MOST_DAYS:
        raise Refusal(
            _("Write between 1 and %(most)d days.") % {"most": MOST_DAYS},
            field="valid_days",
            code="days_out_of_range",
        )


def refuse_rounds(actor: Actor, rounds: Sequence[SurveyRound]) -> None:
    """Refuse rounds that are closed or that the actor may not see."""
    if not rounds:
        raise Refusal(_("Choose at least one round."), field="rounds", code="rounds_needed")
    wanted = {row.pk for row in rounds}
    seen = access.visible_rounds(actor).filter(pk__in=wanted)
    if seen.count() != len(wanted):
        raise Refusal(_("Choose rounds of your own projects."), field="rounds", code="round_unknown")
    if seen.exclude(status=RoundStatus.OPEN).exists():
        raise Refusal(_("A chosen round is closed. Choose open rounds."), field="rounds", code="round_closed")


def refuse_projects(actor: Actor, projects: Sequence[Project]) -> None:
    """Refuse projects that are put away or that the actor may not see."""
    wanted = {row.pk for row in projects}
    seen = visible_projects(actor).filter(pk__in=wanted, archived_at__isnull=True)
    if seen.count() != len(wanted):
        raise Refusal(_("Choose projects of your own."), field="projects", code="project_unknown")


def holder(actor: Actor, person: Person | None, name: str) -> Person:
    """Return the person a pass is for, made from a name when there is no record yet."""
    if person is not None:
        if person.organisation_id != actor.organisation.pk:
            raise Refusal(_("Choose a person of your organisation."), field="person", code="person_unknown")
        return person
    if not name.strip():
        raise Refusal(_("Say who the pass is for."), field="person_name", code="person_needed")
    return Person.objects.create(organisation=actor.organisation, name=name.strip()[:200])


def change_pass(field_pass: FieldPass, **values: object) -> None:
    for name, value in values.items():
        setattr(field_pass, name, value)
    field_pass.save(update_fields=list(values))


def code_fields(code: str, now: datetime) -> dict[str, object]:
    return {"code_hash": hashed_code(code), "code_expires_at": now + timedelta(days=CODE_DAYS)}


def new_code() -> str:
    return "".join(secrets.choice(ALPHABET) for _position in range(CODE_LENGTH))


def shown_code(code: str) -> str:
    """Return a code as it is printed.

    >>> shown_code("ABCDEFGHJK")
    'ABCD-EFGH-JK'
    """
    return "-".join(filter(None, (code[:4], code[4:8], code[8:])))


def tidy_code(typed: str) -> str:
    """Return the code meant, however it was typed.

    >>> tidy_code(" abcd efgh-lo ")
    'ABCDEFGH10'
    """
    return "".join(sign for sign in typed.upper().translate(MISREAD) if sign in ALPHABET)


def hashed_code(typed: str) -> str:
    return salted_hmac("tallygrove.field-code", tidy_code(typed), algorithm="sha256").hexdigest()


def hashed_token(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
