"""What is vendored is what we think it is, licensed, and asks nobody else for anything."""

import hashlib
import re
from pathlib import Path

import pytest

STATIC = Path(__file__).resolve().parents[2] / "deploy" / "static"

SHA256SUMS = STATIC / "SHA256SUMS"
DIGESTS = {name: digest for digest, name in map(str.split, SHA256SUMS.read_text().splitlines())}


def test_every_vendored_script_sheet_and_font_is_listed():
    kept = [*STATIC.rglob("vendor/**/*.js"), *STATIC.rglob("vendor/**/*.css"), *STATIC.rglob("*.woff2")]
    assert sorted(DIGESTS) == sorted(path.relative_to(STATIC).as_posix() for path in kept)


@pytest.mark.parametrize("name", DIGESTS)
def test_a_vendored_file_is_the_one_that_was_reviewed(name):
    assert hashlib.sha256((STATIC / name).read_bytes()).hexdigest() == DIGESTS[name]


@pytest.mark.parametrize(
    "name", ["vendor/htmx/LICENSE.txt", "vendor/leaflet/LICENSE.txt", "fonts/LICENSE-source-sans-3.txt"]
)
def test_a_vendored_work_carries_its_licence(name):
    assert len((STATIC / name).read_text()) > 300


def test_style_sheets_name_only_files_that_are_here():
    sheets = [*STATIC.glob("css/*.css"), STATIC / "vendor/leaflet/leaflet.css"]
    named = [
        (sheet, address)
        for sheet in sheets
        for address in re.findall(r'url\(["\']?([^"\')]+)', sheet.read_text())
    ]
    assert len(named) > 10
    assert [
        address
        for sheet, address in named
        if not address.startswith("#") and not (sheet.parent / address).is_file()
    ] == []


def test_our_modules_import_only_files_that_are_here():
    modules = list(STATIC.glob("js/*.js"))
    named = [(m, a) for m in modules for a in re.findall(r'(?:from|import\()\s*"([^"]+)"', m.read_text())]
    assert len(named) > 3
    assert [address for module, address in named if not (module.parent / address).is_file()] == []


def test_the_frame_and_its_scripts_stay_within_the_budget():
    """Uncompressed bytes a page without a map loads besides its fonts."""
    parts = [*STATIC.glob("css/*.css"), STATIC / "js/site.js", STATIC / "vendor/htmx/htmx.min.js"]
    assert sum(part.stat().st_size for part in parts) < 100_000
