"""Papers and pictures that go with an order, a delivery, a lot, a check of one, a sighting or a care task."""

import hashlib
from datetime import date
from typing import Any

from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.documents.pictures import PDF, BadPicture, media_type, plain_picture
from projects.errors import Refusal
from projects.models import Paper, PaperKind, StoredFile
from projects.paper_rules import require_edit, rule_of, subject_of
from projects.services import editing

MOST_BYTES = 5 * 2**20


@transaction.atomic
def attach(
    *, actor: Actor, subject: Any, upload: Any, kind: str, title: str = "", number: str = "",
    issued_on: date | None = None,
) -> Paper:  # fmt: skip
    """Keep a PDF, JPEG or PNG with a record. `upload` is bytes or a file that can be read.

    A picture is written anew without place and camera; the same bytes are kept once in an organisation.
    """
    editing.ours(actor, subject)
    require_edit(actor, subject)
    if kind not in PaperKind.values:
        raise Refusal(_("Choose what kind of paper it is."), field="kind")
    if issued_on is not None and issued_on > clocks.today_of(actor.organisation):
        raise Refusal(
            _("This day has not come yet. Write the day that stands on the paper."), field="issued_on"
        )
    stored = keep(actor=actor, upload=upload)
    held = editing.held(subject)  # two clicks make one paper
    if held.papers.filter(sha256=stored.sha256, voided_at__isnull=True).exists():
        raise Refusal(_("This very file is attached here already."), field="upload", code="taken")
    paper = Paper(
        organisation=actor.organisation, kind=kind, title=title.strip(), number=number.strip(),
        issued_on=issued_on, sha256=stored.sha256, **{rule_of(held).field: held},
    )  # fmt: skip
    editing.well_formed(paper)
    paper.save(force_insert=True)
    history.record(actor, f"{_name(held)}.paper_added", held, change={"paper": [None, _words(paper)]})
    return paper


@transaction.atomic
def keep(*, actor: Actor, upload: Any) -> StoredFile:
    """Keep the bytes of a paper or picture, once in an organisation; refuse what is neither."""
    content = _content(upload)
    kind = media_type(content)
    if kind is None:
        raise Refusal(
            _("Only PDF, JPEG and PNG files are taken. Save or photograph it as one of these."),
            field="upload",
        )
    if kind != PDF:
        content, kind = _plain(content), "image/jpeg"
    found, _made = StoredFile.objects.get_or_create(
        organisation=actor.organisation,
        sha256=hashlib.sha256(content).hexdigest(),
        defaults={"media_type": kind, "size_bytes": len(content), "content": content},
    )
    return found


@transaction.atomic
def void(*, actor: Actor, paper: Paper, reason: str) -> Paper:
    """Take a paper back that was attached by mistake; it stays in the records, struck out."""
    subject = subject_of(paper)
    editing.ours(actor, paper)
    require_edit(actor, subject)
    if not reason.strip():
        raise Refusal(_("Say in a few words why the paper is taken back."), field="reason")
    if Paper.objects.filter(pk=paper.pk, voided_at__isnull=True).update(voided_at=timezone.now()):
        change = {"paper": [_words(paper), None]}
        history.record(actor, f"{_name(subject)}.paper_taken_back", subject, change=change, reason=reason)
    paper.refresh_from_db()
    return paper


def too_large() -> str:
    """Why a file is refused for its size, and what helps."""
    return _("The file is larger than %(most)s MB. Scan it with fewer dots an inch, or photograph it.") % {
        "most": MOST_BYTES // 2**20
    }


def _content(upload: Any) -> bytes:
    size = len(upload) if isinstance(upload, bytes) else getattr(upload, "size", 0) or 0
    if size > MOST_BYTES:
        raise Refusal(too_large(), field="upload", code="too_large")
    content = upload if isinstance(upload, bytes) else upload.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise Refusal(too_large(), field="upload", code="too_large")
    if not content:
        raise Refusal(_("The file is empty. Choose it again."), field="upload")
    return content


def _plain(content: bytes) -> bytes:
    try:
        return plain_picture(content)
    except BadPicture as bad:
        if bad.args[0] == "too_large":
            words = _("The picture has too many dots to be opened. Make it smaller and choose it again.")
        else:
            words = _("The picture is damaged and cannot be drawn. Choose it again, or take another.")
        raise Refusal(words, field="upload", code=bad.args[0]) from bad


def _name(subject: models.Model) -> str:
    """The noun history verbs of a record begin with."""
    return "".join(f"_{letter.lower()}" if letter.isupper() else letter for letter in type(subject).__name__)[
        1:
    ]


def _words(paper: Paper) -> str:
    """A paper as history names it: its kind and digest, since what is typed on it may be somebody's name."""
    return f"{paper.kind} {paper.sha256[:8]}"
