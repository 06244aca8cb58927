"""Papers and pictures people hand in: told apart by first bytes, pictures written anew without a camera's words."""

import io
import warnings

from PIL import Image, ImageOps

from projects.documents.phone_pictures import BROKEN

PDF, JPEG, PNG = "application/pdf", "image/jpeg", "image/png"
ENDINGS = {PDF: "pdf", JPEG: "jpg", PNG: "png"}
LONGEST_SIDE_PX = 1600
QUALITY = 85
MOST_PIXELS = {JPEG: 64_000_000, PNG: 25_000_000}  # what is held in memory while one is read


class BadPicture(ValueError):
    """It begins like a picture but cannot be drawn, or is too large to be opened; `args[0]` says which."""


def media_type(content: bytes) -> str | None:
    """Return what the first bytes say a file is: a PDF, a JPEG or a PNG, else None. Its name is not asked.

    >>> media_type(b"%PDF-1.7 ..."), media_type(b"<svg>")
    ('application/pdf', None)
    """
    if content.startswith(b"%PDF-"):
        return PDF
    if content.startswith(b"\xff\xd8\xff"):
        return JPEG
    return PNG if content.startswith(b"\x89PNG\r\n\x1a\n") else None


def plain_picture(content: bytes) -> bytes:
    """Return a picture as a JPEG of at most 1600 px a side, upright, with nothing but its colours.

    Place, camera, time, comments and thumbnails do not survive: only the drawn pixels are written.

    Raises `BadPicture`.
    """
    kind = media_type(content)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=("JPEG", "PNG")) as found:
                if found.width * found.height > MOST_PIXELS.get(kind or "", 0):
                    raise BadPicture("too_large")
                return _written(found)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise BadPicture("too_large") from bomb
    except BadPicture:
        raise
    except BROKEN as broken:
        raise BadPicture("broken") from broken


def _written(found: Image.Image) -> bytes:
    found.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))  # a JPEG is read at a fraction of its size
    upright = ImageOps.exif_transpose(found)
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    if upright.has_transparency_data:
        upright = upright.convert("RGBA")
        ground = Image.new("RGBA", upright.size, "white")
        upright = Image.alpha_composite(ground, upright)
    bare = Image.new("RGB", upright.size)
    bare.paste(upright.convert("RGB"))
    held = io.BytesIO()
    bare.save(held, format="JPEG", quality=QUALITY, optimize=True)
    return held.getvalue()
