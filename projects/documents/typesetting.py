"""Pages as a tagged PDF: plain data beside a fixed template, set by typst without network or system fonts."""

import json
import tempfile
from pathlib import Path
from typing import Any

import typst

from projects.documents import FONTS

TEMPLATE = Path(__file__).resolve().parent / "pages.typ"
OF_THE_TEXT = "PDF/UA-1 error: the text"
STANDARDS = ["ua-1"]  # PDF/UA-1, ISO 14289-1: tagged, titled, with a language and alternatives to pictures


CONTROLS = dict.fromkeys([*range(10), *range(11, 32), *range(127, 160), 0xFEFF, 0xFFFE, 0xFFFF], " ")


def set_pages(pages: dict[str, Any]) -> bytes:
    """Return the PDF of pages; the same pages give the same bytes.

    The template reads the data as JSON and sets every string as text, so nothing typed can become markup. Where a
    letter is in none of our fonts the file cannot claim PDF/UA; it is set all the same, with an empty box there.
    """
    plain = without_controls(pages)
    try:
        return _set(plain, STANDARDS)
    except typst.TypstError as error:
        if OF_THE_TEXT not in str(error):
            raise
        return _set(plain, [])


def without_controls(value: Any) -> Any:
    """The same data with a space for every control character: no font has a shape for one."""
    if isinstance(value, str):
        return value.translate(CONTROLS)
    if isinstance(value, dict):
        return {key: without_controls(each) for key, each in value.items()}
    return [without_controls(each) for each in value] if isinstance(value, list) else value


def _set(pages: dict[str, Any], standards: list[str]) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "pages.typ").write_bytes(TEMPLATE.read_bytes())
        (root / "pages.json").write_text(json.dumps(pages, ensure_ascii=False), encoding="utf-8")
        return typst.compile(
            str(root / "pages.typ"),
            root=str(root),
            font_paths=[str(FONTS)],
            ignore_system_fonts=True,
            format="pdf",
            pdf_standards=standards,
            package_path=str(root / "none"),
            package_cache_path=str(root / "none"),
        )
