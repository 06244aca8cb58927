"""Names of persons in frozen papers: a mark stands for each, so that a name can still be erased.

A mark is the person's uid between two private-use characters; names are put in when a paper is opened.
"""

import re
from typing import Any

from projects.models import Organisation, Person

OPEN, CLOSE = "\ue000", "\ue001"
MARK = re.compile(f"{OPEN}([0-9a-f-]{{36}}){CLOSE}")


def named(person: Person | None) -> str:
    """The mark that stands for a person's name; empty for nobody."""
    return f"{OPEN}{person.uid}{CLOSE}" if person else ""


def with_names(organisation: Organisation, paper: Any) -> Any:
    """Put names into a paper's strings as they are known today; one query."""
    wanted = set(_marks(paper))
    rows = Person.objects.filter(organisation=organisation, uid__in=wanted) if wanted else ()
    names = {str(row.uid): str(row) for row in rows}
    return _filled(paper, names)


def _marks(paper: Any) -> list[str]:
    if isinstance(paper, str):
        return MARK.findall(paper) if OPEN in paper else []
    if isinstance(paper, dict):
        return [mark for value in paper.values() for mark in _marks(value)]
    return [mark for value in paper for mark in _marks(value)] if isinstance(paper, list) else []


def _filled(paper: Any, names: dict[str, str]) -> Any:
    if isinstance(paper, str):
        return MARK.sub(lambda mark: names.get(mark[1], ""), paper) if OPEN in paper else paper
    if isinstance(paper, dict):
        return {key: _filled(value, names) for key, value in paper.items()}
    return [_filled(value, names) for value in paper] if isinstance(paper, list) else paper
