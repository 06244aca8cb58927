"""From the cells of a reference row to an unsaved, checked row of the database."""

from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import Model
from django.utils.translation import gettext as _

from species.models import RangeStatus, Species, SpeciesName, SpeciesSynonym, SpeciesTrait
from species.reference_files import Row

Checked = TypeVar("Checked", bound=Model)
YES_NO = {"yes": True, "no": False}


def species_row(row: Row) -> Species:
    """Build a species without its successor, which may stand further down the file."""
    values: dict[str, Any] = {
        name: cell for name, cell in row.cells.items() if name not in ("superseded_by", "is_nitrogen_fixer")
    }
    values["is_nitrogen_fixer"] = _yes_no(row, "is_nitrogen_fixer", blank=True)
    return _checked(row, Species(**values))


def name_row(row: Row, species_by_slug: Mapping[str, Species]) -> SpeciesName:
    values = {"species": _species(row, species_by_slug), "is_main": _yes_no(row, "is_main")}
    return _checked(row, SpeciesName(**{**row.cells, **values}))


def synonym_row(row: Row, species_by_slug: Mapping[str, Species]) -> SpeciesSynonym:
    return _checked(row, SpeciesSynonym(**{**row.cells, "species": _species(row, species_by_slug)}))


def trait_row(row: Row, species_by_slug: Mapping[str, Species]) -> SpeciesTrait:
    values = {"species": _species(row, species_by_slug), "value_number": _number(row, "value_number")}
    return _checked(row, SpeciesTrait(**{**row.cells, **values}))


def range_row(row: Row, species_by_slug: Mapping[str, Species]) -> RangeStatus:
    return _checked(row, RangeStatus(**{**row.cells, "species": _species(row, species_by_slug)}))


Builder = Callable[[Row, Mapping[str, Species]], Model]


def _species(row: Row, species_by_slug: Mapping[str, Species]) -> Species:
    slug = row.cells["species"]
    if slug not in species_by_slug:
        raise row.refusal("species", _("“%(slug)s” is not a slug of species.csv.") % {"slug": slug})
    return species_by_slug[slug]


def _yes_no(row: Row, column: str, *, blank: bool = False) -> bool | None:
    cell = row.cells[column]
    if cell in YES_NO:
        return YES_NO[cell]
    if blank and not cell:
        return None
    allowed = _("yes, no or nothing") if blank else _("yes or no")
    raise row.refusal(column, _("write %(allowed)s, not “%(cell)s”.") % {"allowed": allowed, "cell": cell})


def _number(row: Row, column: str) -> Decimal | None:
    cell = row.cells[column]
    try:
        number = Decimal(cell) if cell else None
    except InvalidOperation as wrong:
        raise row.refusal(column, _("“%(cell)s” is not a number.") % {"cell": cell}) from wrong
    if number is not None and not number.is_finite():
        raise row.refusal(column, _("“%(cell)s” is not a number.") % {"cell": cell})
    return number


def _checked(row: Row, instance: Checked) -> Checked:
    """Hold a row to its field rules; keys to other rows were looked up already."""
    try:
        instance.clean_fields(exclude={"species", "superseded_by", "folded"})
        instance.clean()
    except ValidationError as wrong:
        column, reasons = next(iter(wrong.message_dict.items()))
        if column == NON_FIELD_ERRORS:
            column = next(iter(row.cells))
        raise row.refusal(column, " ".join(reasons)) from wrong
    return instance
