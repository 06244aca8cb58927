"""Papers made of a plan: pages set by typst from plain data, and a workbook."""

from pathlib import Path

FONTS = Path(__file__).resolve().parent / "fonts"  # charts measure text with them too
