"""Papers and pictures of records, read for the pages that list them."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _

from projects import access, figures
from projects.access import Actor
from projects.models import Delivery, Paper, StockLot, StockOrder, StoredFile
from projects.paper_rules import may_edit, rule_of, subject_of


@dataclass(frozen=True)
class PaperRow:
    """A paper with the record it goes with, and its file unless that has not arrived yet."""

    paper: Paper
    subject: Any
    file: StoredFile | None
    may_take_back: bool

    @property
    def subject_words(self) -> str:
        """The record in a few words, for a page that lists papers of several."""
        return subject_words(self.subject)


def subject_words(subject: Any) -> str:
    """A record that papers go with, in a few words."""
    if isinstance(subject, StockOrder):
        return _("the order")
    if isinstance(subject, Delivery):
        return _("delivery of %(day)s") % {"day": figures.day(subject.delivered_on)}
    if isinstance(subject, StockLot):
        return _("lot %(code)s") % {"code": subject.code}
    return str(subject._meta.verbose_name)


def papers_of(actor: Actor, subjects: Iterable[Any]) -> list[PaperRow]:
    """Return the papers of some records that the actor may read, the oldest first, in two queries."""
    wanted: dict[str, list[int]] = defaultdict(list)
    for subject in subjects:
        if actor.may(rule_of(subject).view):
            wanted[rule_of(subject).field].append(subject.pk)
    if not wanted:
        return []
    condition = Q()
    for field, ids in wanted.items():
        condition |= Q(**{f"{field}_id__in": ids})
    papers = list(
        access.visible_papers(actor)
        .filter(condition)
        .select_related("order", "delivery", "lot", "check_of_lot", "sighting", "care_task")
        .order_by("id")
    )
    files = files_of(actor, {paper.sha256 for paper in papers})
    rows = []
    for paper in papers:
        subject = subject_of(paper)
        may = paper.voided_at is None and may_edit(actor, subject)
        rows.append(PaperRow(paper, subject, files.get(paper.sha256), may))
    return rows


def files_of(actor: Actor, digests: Iterable[str]) -> dict[str, StoredFile]:
    """Return {digest: file without its bytes} for those that have arrived."""
    rows = StoredFile.objects.filter(organisation=actor.organisation, sha256__in=list(digests))
    return {row.sha256: row for row in rows.defer("content")}
