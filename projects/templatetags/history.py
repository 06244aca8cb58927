"""Template filters that put a history entry into words."""

import re
from datetime import date
from typing import Any

from django import template
from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Model
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from projects.figures import NO_FIGURE, day
from projects.history import WITHHELD
from projects.models import HistoryEntry, OrderStatus, PaperKind
from species.traits import CATALOGUE

register = template.Library()

ACTS = {
    "made": gettext_noop("made"),
    "created": gettext_noop("made"),
    "added": gettext_noop("added"),
    "edited": gettext_noop("changed"),
    "changed": gettext_noop("changed"),
    "archived": gettext_noop("put away"),
    "restored": gettext_noop("brought back"),
    "refused": gettext_noop("refused"),
    "opened": gettext_noop("opened"),
    "closed": gettext_noop("closed"),
    "received": gettext_noop("received"),
    "moved": gettext_noop("moved"),
    "planted": gettext_noop("planted"),
    "ordered": gettext_noop("ordered"),
    "placed": gettext_noop("placed"),
    "cancelled": gettext_noop("cancelled"),
    "approved": gettext_noop("approved"),
    "invited": gettext_noop("invited"),
    "joined": gettext_noop("joined"),
    "issued": gettext_noop("issued"),
    "enrolled": gettext_noop("put to use"),
    "shared": gettext_noop("shared"),
    "revoked": gettext_noop("withdrawn"),
    "link_revoked": gettext_noop("link withdrawn"),
    "settled": gettext_noop("settled"),
    "laid_out": gettext_noop("laid out"),
    "drawn": gettext_noop("drawn"),
    "imported": gettext_noop("imported"),
    "snoozed": gettext_noop("put off"),
    "erased": gettext_noop("erased"),
    "done": gettext_noop("done"),
    "recorded": gettext_noop("recorded"),
    "assigned": gettext_noop("given to somebody"),
    "put_off": gettext_noop("put off"),
    "dropped": gettext_noop("not needed"),
    "told": gettext_noop("written down"),
    "doubted": gettext_noop("kept as a phone told it, though something is odd"),
    "stood_in_for": gettext_noop("not reached; a spare was taken up for it"),
    "taken_away": gettext_noop("taken away"),
    "finished": gettext_noop("finished"),
    "reopened": gettext_noop("opened again"),
    "withdrawn": gettext_noop("withdrawn"),
    "values_stated": gettext_noop("own values stated"),
    "values_taken_back": gettext_noop("own values taken back"),
    "status_stated": gettext_noop("own status stated"),
    "status_taken_back": gettext_noop("own status taken back"),
    "purposes_weighed": gettext_noop("purposes weighed"),
    "share_added": gettext_noop("share of a tree added"),
    "share_taken_away": gettext_noop("share of a tree taken out"),
    "mix_found": gettext_noop("best mix taken over"),
    "mix_edited": gettext_noop("mix changed by hand"),
    "mix_rules_set": gettext_noop("rules of the mix changed"),
    "windows_written": gettext_noop("planting windows written down"),
    "window_taken_away": gettext_noop("planting window taken away"),
    "day_rules_started": gettext_noop("usual rules of a planting day written down"),
    "day_rules_dropped": gettext_noop("own rules of a planting day taken away"),
    "price_list_read": gettext_noop("price list read"),
    "decided_go": gettext_noop("decided to go"),
    "decided_no_go": gettext_noop("decided not to go"),
    "called_off": gettext_noop("called off"),
    "crew_set": gettext_noop("crew written down"),
    "lot_added": gettext_noop("lot put on the list"),
    "lot_changed": gettext_noop("lot on the list changed"),
    "lot_taken_off": gettext_noop("lot taken off the list"),
    "confirmed": gettext_noop("confirmed"),
    "substitute_agreed": gettext_noop("something else agreed to"),
    "line_added": gettext_noop("line added"),
    "line_changed": gettext_noop("line changed"),
    "line_taken_out": gettext_noop("line taken out"),
    "paper_added": gettext_noop("paper attached"),
    "paper_taken_back": gettext_noop("paper taken back"),
}


UID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
DAY_AT_END = re.compile(r"(?<=, )\d{4}-\d{2}-\d{2}$")  # as labels of takings, movements and days end


def _day_words(found: re.Match[str]) -> str:
    return _as_day(found.group())


def _as_day(text: str) -> str:
    """A stored day as pages write days; any other text as it is."""
    try:
        return day(date.fromisoformat(text)) if len(text) == 10 else text
    except ValueError:
        return text


def _model(kind: str) -> type[Model] | None:
    return next((model for model in apps.get_models() if model._meta.model_name == kind), None)


@register.filter
def history_words(entry: HistoryEntry) -> str:
    """What happened, in a phrase: "Site Vale Novo: changed". An act without words is shown as stored."""
    model = _model(entry.subject_kind)
    kind = str(model._meta.verbose_name) if model else entry.subject_kind
    act = entry.verb.rpartition(".")[2]
    words = {
        "what": capfirst(f"{kind} {DAY_AT_END.sub(_day_words, _label(entry))}".strip()),
        "act": _(ACTS[act]) if act in ACTS else act.replace("_", " "),
    }
    return _("%(what)s: %(act)s") % words


def _label(entry: HistoryEntry) -> str:
    """What the record was called then; an order without a number of its own was called by its state."""
    nameless = entry.subject_kind == "stockorder" and entry.subject_label in OrderStatus.values
    return "" if nameless else entry.subject_label


@register.filter
def changed_fields(entry: HistoryEntry) -> list[dict[str, Any]]:
    """The changed fields in words, each with what it was and what it became."""
    model = _model(entry.subject_kind)
    return [
        {
            "field": _field_words(model, name),
            "before": "" if pair[0] == WITHHELD else _shown(_chosen(model, name, pair[0])),
            "after": _shown(_chosen(model, name, pair[1])),
        }
        for name, pair in (entry.change or {}).items()
        if isinstance(pair, list | tuple) and len(pair) == 2
    ]


def _field_words(model: type[Model] | None, name: str) -> str:
    if name in CATALOGUE:
        return str(CATALOGUE[name].label)
    try:
        words = str(model._meta.get_field(name).verbose_name) if model else name
        is_plain = name.endswith("_minor") and "minor" not in words
        return _("%(amount)s in minor units") % {"amount": words} if is_plain else words
    except FieldDoesNotExist:
        return name.replace("_", " ")


def _chosen(model: type[Model] | None, name: str, value: Any) -> Any:
    """The words of a choice; anything else as it is. A paper is stored as its kind and the head of its digest."""
    if name == "paper" and isinstance(value, str):
        return str(dict(PaperKind.choices).get(value.partition(" ")[0], value))
    try:
        choices = dict(model._meta.get_field(name).flatchoices) if model else {}
    except (FieldDoesNotExist, AttributeError):
        return value
    return str(choices[value]) if isinstance(value, str) and value in choices else value


def _shown(value: Any) -> str:
    if value in (None, "", [], {}):
        return NO_FIGURE
    if value == WITHHELD:
        return _("text that history does not keep")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list):
        return _list_words(value)
    return _as_day(str(value)[:120])


def _list_words(values: list[Any]) -> str:
    """A list in words: other records are counted, since their ids mean nothing to a reader."""
    if all(isinstance(value, str) and UID.fullmatch(value) for value in values):
        return ngettext("%(n)s record", "%(n)s records", len(values)) % {"n": len(values)}
    return ", ".join(str(value) for value in values)[:120]
