"""Names for new plots that go on where a block's plots left off."""

from __future__ import annotations

import re
from collections.abc import Iterable

NUMBERED = re.compile(r"^(?P<stem>.*?)(?P<number>\d{1,6})$")


def next_names(taken: Iterable[str], block_name: str, how_many: int) -> list[str]:
    """Return names for so many new plots, counted on from the block's numbered plots.

    Parameters
    ----------
    taken : names of every plot of the block, given up or not.
    block_name : gives the letters where no plot has a number yet.
    how_many : names wanted.

    Returns
    -------
    list of str
        None of them taken. The commonest letters go on, with as many digits as they have had.

    Examples
    --------
    >>> next_names(["N1", "N2", "N7"], "North slope", 2)
    ['N8', 'N9']
    >>> next_names(["UT-09"], "Upper terraces", 2), next_names([], "Upper terraces", 1)
    (['UT-10', 'UT-11'], ['UT-01'])
    """
    names = set(taken)
    numbered: dict[str, list[str]] = {}
    for name in sorted(names):
        if found := NUMBERED.match(name):
            numbered.setdefault(found["stem"], []).append(found["number"])
    if not numbered:
        stem, digits, last = f"{initials(block_name)}-", 2, 0
    else:
        stem = max(numbered, key=lambda each: (len(numbered[each]), each))
        digits = min(len(number) for number in numbered[stem])
        last = max(int(number) for number in numbered[stem])
    return [f"{stem}{number:0{digits}d}" for number in range(last + 1, last + 1 + how_many)]


def initials(block_name: str) -> str:
    """Return the first letters of a block's first words, "P" where it has none.

    >>> initials("Upper terraces"), initials("7")
    ('UT', 'P')
    """
    letters = [word[0].upper() for word in block_name.split() if word[0].isalpha()]
    return "".join(letters[:3]) or "P"
