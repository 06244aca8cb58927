"""Pages as a tagged PDF: plain data beside a fixed template, set by typst without network or system fonts."""

import json
import tempfile
from pathlib import Path
from typing import Any

import typst

from projects.documents import FONTS

TEMPLATE = Path(__file__).resolve().parent / "pages.typ"
STANDARDS = ["ua-1"]  # PDF/UA-1, ISO 14289-1: tagged, titled, with a language and alternatives to pictures


def set_pages(pages: dict[str, Any]) -> bytes:
    """Return the PDF of pages; the same pages give the same bytes.

    The template reads the data as JSON and sets every string as text, so nothing typed can become markup.
    """
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
            pdf_standards=STANDARDS,
            package_path=str(root / "none"),
            package_cache_path=str(root / "none"),
        )
