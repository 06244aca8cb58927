"""Draw a chart once and keep it: the file's name is a digest of everything that is in the picture."""

import base64
import hashlib
import json
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.utils.html import escape

from projects.documents import FONTS

WEB_FONT = "fonts/source-sans-3-latin-wght-normal.woff2"
DRAWING = "1"  # raise it with any change to how pictures are drawn; kept files of another number are not used


def drawn(spec: dict[str, Any], *, title: str) -> bytes:
    """Return the picture of a specification as SVG, drawn at first need and read from its file afterwards.

    Words and units stand in the specification, so a language or unit system has files of its own.
    """
    path = file_of(spec, title)
    try:
        return path.read_bytes()
    except FileNotFoundError:
        picture = draw(spec, title)
        keep(path, picture)
        return picture


def file_of(spec: dict[str, Any], title: str) -> Path:
    """Where the picture of a specification is kept."""
    text = json.dumps([DRAWING, title, spec], sort_keys=True, ensure_ascii=False)
    return Path(settings.MEDIA_ROOT) / "charts" / f"{hashlib.sha256(text.encode()).hexdigest()}.svg"


def draw(spec: dict[str, Any], title: str) -> bytes:
    """Draw without looking for a kept file."""
    svg = renderer().vegalite_to_svg(spec, allowed_base_urls=[])
    head, mark, body = svg.partition(">")
    words = f"<title>{escape(title)}</title><style>{font_face()}</style>"
    return f'{head} role="img"{mark}{words}{body}'.encode()


def keep(path: Path, picture: bytes) -> None:
    """Write under another name first, so that nobody reads half a picture."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as part:
        part.write(picture)
    Path(part.name).replace(path)


@cache
def renderer() -> Any:
    """The drawing library, loaded when the first picture is drawn, with the shipped fonts to measure text by."""
    import vl_convert

    vl_convert.register_font_directory(str(FONTS))
    return vl_convert


@cache
def font_face() -> str:
    """The web font inside the picture: a picture in a page may load nothing."""
    found = finders.find(WEB_FONT)
    if found is None:
        return ""
    data = base64.b64encode(Path(found).read_bytes()).decode()
    return (
        '@font-face{font-family:"Source Sans 3";font-weight:200 900;'
        f'src:url("data:font/woff2;base64,{data}") format("woff2")}}'
    )
