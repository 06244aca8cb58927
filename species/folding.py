"""One spelling for searching: names match whatever their accents, capitals or hyphens, on both databases."""

import re
import unicodedata


def folded(text: str) -> str:
    """Return `text` in lower case without accents, with single spaces for hyphens and runs of spaces.

    Examples
    --------
    >>> folded("Lódão-bastardo")
    'lodao bastardo'
    >>> folded("  Quercus   ROBUR ")
    'quercus robur'
    """
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(sign for sign in decomposed if not unicodedata.combining(sign))
    return re.sub(r"[\s\-‐‑–]+", " ", plain).strip()
