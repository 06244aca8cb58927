"""The pieces a page is set from. Every string is shown as it is."""

from collections.abc import Iterable, Sequence
from typing import Any

Item = dict[str, Any]


def heading(text: str, level: int = 2) -> Item:
    return {"k": "h", "level": level, "text": text}


def words(text: str, *, strong: bool = False, soft: bool = False) -> Item:
    return {"k": "p", "text": text, "strong": strong, "soft": soft}


def points(texts: Iterable[str]) -> Item:
    return {"k": "list", "items": list(texts)}


def facts(rows: Iterable[tuple[str, str]]) -> Item:
    """Label and value, side by side; rows without a value are left out."""
    return {"k": "facts", "rows": [[label, value] for label, value in rows if value]}


def box(title: str, *texts: str, grave: bool = False) -> Item:
    return {"k": "box", "title": title, "text": [text for text in texts if text], "grave": grave}


def column(title: str, width: int = 1, *, right: bool = False) -> Item:
    """A column's head; width 0 is as wide as what stands in it."""
    return {"t": title, "w": width, "right": right}


def table(
    columns: Sequence[Item], rows: Iterable[Sequence[str]], *, total: Sequence[str] | None = None, caption: str = ""
) -> Item:  # fmt: skip
    held = [list(row) for row in rows]
    return {
        "k": "table", "columns": list(columns), "rows": held, "caption": caption,
        "total": None if total is None else list(total),
    }  # fmt: skip


def picture(svg: str, *, alt: str, caption: str, width: int = 100) -> Item:
    """A map; `alt` says in words what it shows."""
    return {"k": "map", "svg": svg, "alt": alt, "caption": caption, "width": width}


def new_page() -> Item:
    return {"k": "break"}


# --- room to write, for paper ---------------------------------------------------------------------
def lines(label: str, number: int = 1, *, gap: int = 17) -> Item:
    return {"k": "lines", "label": label, "n": number, "gap": gap}


def blank_table(
    columns: Sequence[Item], rows: int, *, caption: str = "", total: str = "", gap: int = 15
) -> Item:
    return {"k": "grid", "columns": list(columns), "n": rows, "caption": caption, "total": total, "gap": gap}


def tick_boxes(texts: Iterable[str], *, caption: str = "", columns: int = 2) -> Item:
    return {"k": "boxes", "items": list(texts), "caption": caption, "columns": columns}


def blank_facts(labels: Iterable[str], *, grave: bool = False) -> Item:
    """Labels, each with a line to write on; `grave` frames them."""
    return {"k": "blanks", "labels": list(labels), "grave": grave}
