"""Pictures as the phone form sends them: small JPEGs, drawn anew on the phone, that carry no place."""

import io
import struct
import warnings

from PIL import Image, UnidentifiedImageError

MOST_BYTES = 2 * 2**20
MOST_PIXELS = 16_000_000  # the form sends at most 1600 a side; what is held in memory while one is read
START, END = b"\xff\xd8\xff", b"\xff\xd9"
GPS_DIRECTORY = 0x8825  # Exif's pointer to where a picture was taken
PLACE_IN_WORDS = (b"GPSLatitude", b"GPSLongitude", b"GPSCoordinates")  # as XMP and other blocks write it
# What reading a damaged picture raises, or the words a camera wrote into it.
BROKEN = (
    UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, struct.error, TypeError, ArithmeticError,
    LookupError, AttributeError,
)  # fmt: skip


class NotTaken(ValueError):
    """A picture that is not kept; `args[0]` says why: not_a_picture, too_large or carries_place."""


def check_picture(content: bytes) -> None:
    """Raise `NotTaken` unless the bytes are one whole JPEG of a sensible size without a place in it.

    Begins and ends as a JPEG does, so that nothing rides along behind it; every line of it can be drawn.
    """
    if not content.startswith(START) or not content.endswith(END):
        raise NotTaken("not_a_picture")
    if any(word in content for word in PLACE_IN_WORDS):
        raise NotTaken("carries_place")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            verify(content)
    except NotTaken:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise NotTaken("too_large") from bomb
    except BROKEN as broken:
        raise NotTaken("not_a_picture") from broken


def verify(content: bytes) -> None:
    with Image.open(io.BytesIO(content), formats=("JPEG",)) as found:
        found.verify()
    with Image.open(io.BytesIO(content), formats=("JPEG",)) as found:
        if found.width * found.height > MOST_PIXELS:
            raise NotTaken("too_large")
        if found.getexif().get_ifd(GPS_DIRECTORY):
            raise NotTaken("carries_place")
        found.load()
