"""Refusals of the species reference, each worded for the person who meets it."""

from django.utils.translation import gettext as _


class SpeciesError(Exception):
    """A species rule was broken; `code` names the rule for machines."""

    code = "species_error"


class SpeciesNeverDeleted(SpeciesError):
    """Counts and lots point at species for ever, so a row can only be superseded."""

    code = "species_never_deleted"

    def __init__(self) -> None:
        super().__init__(_("A species is never deleted. Supersede it by another species instead."))


class SlugIsPermanent(SpeciesError):
    """Files, cards and phones carry the slug, so it never changes."""

    code = "slug_is_permanent"

    def __init__(self) -> None:
        super().__init__(_("The slug of a species never changes. Add a new species and supersede this one."))


class SupersedingRefused(SpeciesError):
    """The chain of superseded species would not end at a living name."""

    code = "superseding_refused"


class OwnValueRefused(SpeciesError):
    """An organisation's own species or value cannot stand; `field` names the input at fault."""

    code = "own_value_refused"

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message, self.field = message, field


class ReferenceDataError(SpeciesError):
    """A row of a reference file cannot be used; says which file, line and column.

    Parameters
    ----------
    file : str
        Name of the file, without folders.
    line : int
        Line in the file as an editor shows it; the heading is line 1.
    column : str
        Heading of the column at fault.
    reason : str
        What is wrong and what to write instead.
    """

    code = "reference_data_error"

    def __init__(self, *, file: str, line: int, column: str, reason: str) -> None:
        self.file, self.line, self.column, self.reason = file, line, column, reason
        super().__init__(
            _("%(file)s, line %(line)d, column %(column)s: %(reason)s")
            % {"file": file, "line": line, "column": column, "reason": reason}
        )
