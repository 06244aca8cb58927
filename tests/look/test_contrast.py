"""The palette keeps its promise of contrast (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""

import re
from pathlib import Path

import pytest

TOKENS = Path(__file__).resolve().parents[2] / "deploy" / "static" / "css" / "tokens.css"
COLOURS = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", TOKENS.read_text().split("@media")[0]))


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(COLOURS[one]), luminance(COLOURS[other])))
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("ground", ["paper", "sheet", "shade", "ochre-wash"])
@pytest.mark.parametrize("writing", ["ink", "ink-soft", "ochre"])
def test_every_writing_colour_reads_on_every_ground(writing, ground):
    assert contrast(writing, ground) >= 4.5


@pytest.mark.parametrize("button", ["ink", "ochre", "band-deep"])
def test_the_words_on_a_button_read(button):
    assert contrast("sheet", button) >= 4.5


@pytest.mark.parametrize("mark", ["rule-deep", "band", "band-deep", "ochre", "ink"])
def test_controls_and_marks_stand_out_from_the_sheet(mark):
    assert contrast(mark, "sheet") >= 3


@pytest.mark.parametrize(("mark", "ground"), [("ink", "band"), ("ochre", "band")])
def test_estimate_and_target_stand_out_from_the_interval_in_greyscale_too(mark, ground):
    assert contrast(mark, ground) >= 2
