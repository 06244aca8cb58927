"""A beat whose words are not on its page fails the walk of the demo."""

import pytest

from deploy.scripts import walk_demo
from deploy.scripts.browse import Page


class Reader:
    """A visitor who finds the same words on every page."""

    def __init__(self, text, status=200):
        self.page = Page("http://127.0.0.1/there/", status, {}, 0.0, text=text)

    def get(self, path):
        return self.page


@pytest.mark.parametrize(
    ("visitor", "good"),
    [(Reader("Plant lot A 63 %"), 1), (Reader("Plant lot B 63 %"), 0), (Reader("Plant lot A 63 %", 403), 0)],
)
def test_a_beat_passes_only_where_its_words_are_read(visitor, good, capsys):
    tally = walk_demo.Tally()
    beat = {"key": "clock", "person": "manager", "path": "/there/", "expect": ["Plant lot A", "63\u00a0%"]}
    walk_demo.read_beat(tally, visitor, beat)
    assert (tally.good, tally.bad) == (good, 1 - good)
    assert "manager: clock" in capsys.readouterr().out
