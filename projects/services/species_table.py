"""The table of facts brought back as a file: every problem listed, or every change put in; never half of it."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import countries
from projects.access import Actor
from projects.errors import Refusal
from projects.services import own_species as services
from species.access import shared_ranges, shared_traits, visible_species
from species.calc.cells import decimal_number
from species.errors import OwnValueRefused
from species.fact_groups import order_words, out_of_order
from species.fact_table import OWN, SHARED, STATUS, BadTable, FactRow, Problem, read_table
from species.folding import folded
from species.models import RangeStatus, Species
from species.selectors.table import fact_rows, place_of
from species.services.own_values import Stated, believed, value_text, why_not_lifted
from species.traits import CATALOGUE

ADDED, CHANGED, TAKEN_BACK = "added", "changed", "taken_back"
MOST_SHOWN = 500  # problems told at once
Key = tuple[str, str, str]  # species slug, trait, place


@dataclass(frozen=True)
class Change:
    """One own fact that would become another; `before` is what the organisation holds now, shared or own."""

    line: int
    act: str
    row: FactRow
    before: str
    stated: Stated | None = None  # of a trait that is held


@dataclass
class Reading:
    """What a file would do."""

    changes: list[Change] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    unchanged: int = 0

    @property
    def shown_problems(self) -> list[Problem]:
        """As many as a page can hold."""
        return self.problems[:MOST_SHOWN]

    @property
    def problems_not_shown(self) -> int:
        return max(len(self.problems) - MOST_SHOWN, 0)

    def acts(self) -> dict[str, int]:
        """How many of each act."""
        return {
            act: sum(change.act == act for change in self.changes) for act in (ADDED, CHANGED, TAKEN_BACK)
        }


class BadFile(Refusal):
    """The file cannot go in; `problems` lists every reason."""

    code = "bad_file"

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(_("Nothing was put in. Mend the file and choose it again."), field="file")
        self.problems = problems


def read(*, actor: Actor, content: bytes) -> Reading:
    """Say what a file would change and everything that is wrong with it; nothing is written."""
    actor.require(services.VERB)
    try:
        rows, problems = read_table(content)
    except BadTable as bad:
        return Reading(problems=[bad.problem])
    faulty = {problem.line for problem in problems}
    held = Held(actor)
    found = Reading(problems=list(problems))
    seen: dict[tuple, int] = {}
    for line, row in rows:
        if line not in faulty:
            held.judge(line, row, seen, found)
    found.problems += list(held.falling(found.changes))
    found.problems.sort(key=lambda problem: problem.line)
    return found


@transaction.atomic
def put_in(*, actor: Actor, content: bytes) -> Reading:
    """Put the changes of a file in, all of them or none."""
    found = read(actor=actor, content=content)
    if found.problems:
        raise BadFile(found.problems)
    species = {row.slug: row for row in visible_species(actor.organisation.uid)}
    by_species: dict[str, dict[str, Stated | None]] = defaultdict(dict)
    for change in found.changes:
        if change.row.trait == STATUS:
            _put_status(actor, species[change.row.species], change)
        else:
            by_species[change.row.species][change.row.trait] = change.stated
    for slug, stated in sorted(by_species.items()):
        services.state_each(actor=actor, species=species[slug], stated=stated, reason=_("from a file"))
    return found


def _put_status(actor: Actor, species: Species, change: Change) -> None:
    country, _slash, region = change.row.place.partition("/")
    place: dict[str, Any] = {"actor": actor, "species": species, "country_code": country, "region": region}
    if change.act == TAKEN_BACK:
        services.take_back_status(**place)
    else:
        services.state_status(**place, status=change.row.value, source=change.row.source)


class Wrong(Exception):
    """A cell cannot be meant."""

    def __init__(self, column: str, words: str) -> None:
        super().__init__(words)
        self.column, self.words = column, words


class Held:
    """What the organisation holds now, to compare the rows of a file with; a constant number of queries."""

    def __init__(self, actor: Actor) -> None:
        uid = actor.organisation.uid
        species = list(visible_species(uid))
        self.by_slug = {row.slug: row for row in species}
        self.by_name: dict[str, list[Species]] = defaultdict(list)
        for row in species:
            self.by_name[row.folded].append(row)
        slugs = {row.pk: row.slug for row in species}
        self.standing = {(row.species, row.trait, row.place): row for row in fact_rows(uid)}
        self.shared: dict[Key, tuple[str, str]] = {
            (slugs[row.species_id], row.trait, ""): (value_text(row.words or row.value_number), row.source)
            for row in shared_traits() if row.species_id in slugs
        } | {
            (slugs[row.species_id], STATUS, place_of(row)): (row.status, row.source)
            for row in shared_ranges() if row.species_id in slugs
        }  # fmt: skip

    def judge(self, line: int, row: FactRow, seen: dict[tuple, int], found: Reading) -> None:
        """Add what a row would change, or what is wrong with it."""
        try:
            row = self.known(row)
            key = (row.species, row.trait, row.place)
            first = seen.setdefault((*key, row.whose), line)
            if first != line:
                raise Wrong(
                    "trait", _("Line %(line)s says this already. Keep one of them.") % {"line": first}
                )
            change = self.change_of(line, row, key)
        except Wrong as wrong:
            found.problems.append(Problem(line, wrong.column, wrong.words))
            return
        if change is None:
            found.unchanged += 1
        else:
            found.changes.append(change)

    def known(self, row: FactRow) -> FactRow:
        """The row with its species found and its words checked against what there is."""
        species = self.species_of(row)
        if row.trait != STATUS and row.trait not in CATALOGUE:
            raise Wrong(
                "trait", _("“%(key)s” is not a trait we know. The schema lists them.") % {"key": row.trait}
            )
        if row.whose not in (SHARED, OWN):
            raise Wrong("whose", _("Write own for what your organisation holds, or shared."))
        if row.trait == STATUS:
            _known_place(row)
        elif row.place:
            raise Wrong("place", _("A place is only of a status. Leave this empty."))
        return replace(row, species=species.slug, scientific_name=species.scientific_name)

    def species_of(self, row: FactRow) -> Species:
        if row.species and row.species not in self.by_slug:
            words = _(
                "No species is called “%(name)s” here. Add it first, or leave this empty and write the scientific name."
            )
            raise Wrong("species", words % {"name": row.species})
        named = self.by_name.get(folded(row.scientific_name), [])
        if row.species:
            species = self.by_slug[row.species]
            if row.scientific_name and folded(row.scientific_name) != species.folded:
                words = _("“%(slug)s” is %(name)s, not %(written)s. Correct one of the two.")
                raise Wrong("scientific_name", words % {
                    "slug": row.species, "name": species.scientific_name, "written": row.scientific_name,
                })  # fmt: skip
            return species
        if len(named) != 1:
            words = _(
                "No species is called “%(name)s” here. Add it first: a file states facts, it adds no species."
            )
            raise Wrong("scientific_name", words % {"name": row.scientific_name})
        return named[0]

    def change_of(self, line: int, row: FactRow, key: Key) -> Change | None:
        if row.whose == SHARED:
            self.same_as_shared(row, key)
            return None
        standing = self.standing.get(key)
        own = standing if standing is not None and standing.whose == OWN else None
        before = "" if standing is None else f"{standing.value} ({standing.source})"
        if not row.value:
            return None if own is None else Change(line, TAKEN_BACK, row, before)
        if row.trait == STATUS:
            self.refuse_lifting(row, key)
        stated = None if row.trait == STATUS else _stated(row)
        if stated is not None:
            row = replace(row, value=value_text(stated.value), source=stated.source, basis=stated.basis)
        if own is not None and (own.value, own.source, own.basis) == (row.value, row.source, row.basis):
            return None
        return Change(line, ADDED if own is None else CHANGED, row, before, stated)

    def refuse_lifting(self, row: FactRow, key: Key) -> None:
        """An invasive status stays until somebody cites the list that says otherwise."""
        country = (key[0], STATUS, row.place.partition("/")[0])
        status, source = self.shared.get(key) or self.shared.get(country) or ("", "")
        if why := why_not_lifted(status, source, row.value, row.source):
            raise Wrong("source", why)

    def same_as_shared(self, row: FactRow, key: Key) -> None:
        value, source = self.shared.get(key, ("", ""))
        number = decimal_number(row.value)
        written = value_text(number) if number is not None else " ".join(row.value.split())
        if not value:
            raise Wrong(
                "whose", _("The shared reference says nothing here. Write own if your organisation holds it.")
            )
        if (written, row.source) != (value, source):
            words = _(
                "The shared reference says %(value)s (%(source)s) and is not changed by a file. "
                "To hold it otherwise, write own in the column whose."
            )
            raise Wrong("value" if written != value else "source", words % {"value": value, "source": source})

    def falling(self, changes: list[Change]) -> Iterator[Problem]:
        """Tolerances that would be out of order once everything is in, each told at the line that makes it so."""
        numbers: dict[str, dict[str, Decimal]] = defaultdict(dict)
        lines: dict[tuple[str, str], int] = {}
        touched = {change.row.species for change in changes}
        taken_back = {(c.row.species, c.row.trait) for c in changes if c.act == TAKEN_BACK}
        for (slug, trait, _place), row in self.standing.items():
            if slug in touched and trait in CATALOGUE and CATALOGUE[trait].words is None:
                back = (
                    self.shared.get((slug, trait, ""), ("", ""))[0]
                    if (slug, trait) in taken_back
                    else row.value
                )
                if back:
                    numbers[slug][trait] = Decimal(back)
        for change in changes:
            lines[change.row.species, change.row.trait] = change.line
            if change.stated is not None and isinstance(change.stated.value, Decimal):
                numbers[change.row.species][change.row.trait] = change.stated.value
        for slug in sorted(touched):
            for pair in out_of_order(numbers[slug]):
                line = max((lines[slug, key] for key in pair if (slug, key) in lines), default=0)
                if line:
                    yield Problem(line, "value", order_words(pair, numbers[slug]))


def _known_place(row: FactRow) -> None:
    country, _slash, region = row.place.partition("/")
    if country not in countries.names():
        raise Wrong(
            "place", _("Write the country in two capitals, such as PT, or country/region, such as PT/PT-30.")
        )
    if len(region) > 80:
        raise Wrong("place", _("The name of the region is too long."))
    if row.value and row.value not in RangeStatus.Status.values:
        words = _("Write one of: %(words)s.") % {"words": ", ".join(RangeStatus.Status.values)}
        raise Wrong("value", words)
    if row.basis or row.unit:
        raise Wrong(
            "basis" if row.basis else "unit", _("A status has neither unit nor basis. Leave this empty.")
        )
    if row.value and not row.source:
        raise Wrong("source", _("Write the list or authority that says so."))


def _stated(row: FactRow) -> Stated:
    kind = CATALOGUE[row.trait]
    value: Any = decimal_number(row.value) if kind.words is None else tuple(dict.fromkeys(row.value.split()))
    if value is None:
        raise Wrong("value", _("Write a number such as 5.5 or 1200, without signs for thousands."))
    if row.unit not in ("", kind.unit):
        unit = kind.unit or _("empty: words have no unit")
        raise Wrong("unit", _("The unit must be %(unit)s. Convert the value.") % {"unit": unit})
    try:
        found = believed(row.trait, Stated(value, row.source, row.basis))
    except OwnValueRefused as refused:
        column = refused.field if refused.field in ("source", "basis") else "value"
        raise Wrong(column, refused.message) from refused
    if found is None:
        raise Wrong("value", _("Write a value."))
    return found
