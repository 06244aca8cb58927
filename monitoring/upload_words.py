"""Uploads in words: what a column may mean, why a file cannot be read, what a plot's status may be called."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from monitoring.calc import count_table_file as table
from monitoring.calc.count_table_file import Unreadable
from monitoring.calc.spreadsheet_cells import folded

MEANINGS = {
    "site": gettext_lazy("Site"),
    "block": gettext_lazy("Block"),
    "plot": gettext_lazy("Plot"),
    "species": gettext_lazy("Species"),
    "lot": gettext_lazy("Stock lot or cohort"),
    "planted": gettext_lazy("Planted (compared with the baseline)"),
    "alive": gettext_lazy("Alive"),
    "dead_stem": gettext_lazy("Dead stem"),
    "empty_spot": gettext_lazy("Empty spot"),
    "dead": gettext_lazy("Dead, not split (kept as dead stems)"),
    "not_found": gettext_lazy("Not found"),
    "not_assessed": gettext_lazy("Not assessed"),
    "resprout": gettext_lazy("Of those alive: resprouts"),
    "origin_uncertain": gettext_lazy("Of those alive: may be natural"),
    "observed_on": gettext_lazy("Day of the visit"),
    "status": gettext_lazy("Status of the plot"),
    "reason": gettext_lazy("Reason it was not counted"),
    "note": gettext_lazy("Note"),
}

WHY_UNREADABLE = {
    table.EMPTY: gettext_noop("The file is empty. Save the sheet again and choose the new file."),
    table.NO_HEADING: gettext_noop(
        "The first row holds no headings. Write above each column what it holds, such as plot, species, alive."
    ),
    table.NO_ROWS: gettext_noop("The file holds headings but no rows below them."),
    table.HEADING_TWICE: gettext_noop(
        "The heading “%(heading)s” stands twice. Rename or delete one of the two columns."
    ),
    table.ONE_COLUMN: gettext_noop(
        "Only one column was found. Separate the columns by commas, semicolons or tabs, or send an XLSX file."
    ),
    table.NOT_A_TABLE: gettext_noop("This is not a table. Save the sheet as CSV or XLSX and choose that file."),
    table.UNCLOSED_QUOTE: gettext_noop(
        "From line %(line)s on the file cannot be taken apart: a quotation mark opens there and does not close. "
        "Save the sheet again as CSV, or send an XLSX file."
    ),
    table.TOO_MANY_ROWS: gettext_noop(
        "The file holds more than %(most)s rows. Split it in two; each part is checked on its own."
    ),
    table.TOO_MANY_COLUMNS: gettext_noop(
        "The file holds more than %(most)s columns. Keep those that hold counts."
    ),
    table.PROTECTED: gettext_noop(
        "The workbook is protected by a password or saved in the old XLS format. "
        "Save it as XLSX without a password, or as CSV."
    ),
    table.DAMAGED: gettext_noop(
        "The workbook is damaged and cannot be opened. Save it again as XLSX, or as CSV."
    ),
    table.OTHER_SPREADSHEET: gettext_noop(
        "This is a packed file but not an XLSX workbook. Save the sheet as XLSX or CSV and choose that file."
    ),
    table.UNPACKS_TOO_LARGE: gettext_noop(
        "The workbook unpacks to far more than a table of counts. Copy the counts into a new workbook, "
        "or save the sheet as CSV."
    ),
}  # fmt: skip

# What people write for a plot's status, beside the codes of the count sheet. Folded; see `folded`.
STATUS_WORDS = {
    "counted": ("counted", "contada", "contado", "contee", "comptee", "imehesabiwa"),
    "missing:unsafe": ("unsafe", "unsafe not visited", "insegura", "inseguro", "perigoso", "dangereux", "hatari"),
    "missing:refused": ("refused", "access refused", "acesso recusado", "acceso denegado", "acces refuse"),
    "missing:not_located": ("not located", "nao localizada", "no localizada", "non localisee"),
    "missing:not_reached": ("not reached", "nao alcancada", "no alcanzada", "non atteinte", "haikufikiwa"),
    "destroyed:burnt": ("burnt", "burned", "ardida", "queimada", "quemada", "brulee", "imeungua"),
    "destroyed:slid": ("slid", "slid away", "landslide", "deslizamento", "deslizamiento", "glissement"),
    "destroyed:built_on": ("built on", "construida", "construite", "imejengwa"),
    "destroyed:other": ("destroyed", "destruida", "detruite", "imeharibiwa"),
}  # fmt: skip

WHOLE_STATUSES: dict[str, tuple[str, str]] = {
    folded(code.replace(":", " ")): (code.partition(":")[0], code.partition(":")[2]) for code in STATUS_WORDS
}


def why_unreadable(problem: Unreadable) -> str:
    """Return in a sentence why a file cannot be read and what to do."""
    return _(WHY_UNREADABLE[problem.code]) % problem.facts


def plot_status(status: str, reason: str = "") -> tuple[str, str] | None:
    """Return (status, reason) as `visit/1` writes them from what two cells say, or None where they say nothing known.

    >>> plot_status("Unsafe, not visited"), plot_status("missing", "not reached"), plot_status("", "")
    (('missing', 'unsafe'), ('missing', 'not_reached'), ('counted', ''))
    >>> plot_status("destroyed", "unsafe") is None
    True
    """
    said, why = folded(status), folded(reason)
    if not said and not why:
        return "counted", ""
    by_status, by_reason = named_status(said), named_status(why)
    if f"{said} {why}".strip() in WHOLE_STATUSES:
        return WHOLE_STATUSES[f"{said} {why}".strip()]
    if not why or said == "counted":
        return by_status
    agrees = by_reason is not None and said in ("", by_reason[0])
    same_kind = by_reason is not None and by_status is not None and by_status[0] == by_reason[0]
    return by_reason if agrees or same_kind else None


def named_status(text: str) -> tuple[str, str] | None:
    """Return the status that one folded text names."""
    found = next((code for code, words in STATUS_WORDS.items() if text in words), "")
    whole, _colon, part = found.partition(":")
    return (whole, part) if found else WHOLE_STATUSES.get(text)
