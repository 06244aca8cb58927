"""Keeps count of what was as it must be and what was not."""

from dataclasses import dataclass


@dataclass
class Tally:
    """Prints each finding as it is made and counts them."""

    good: int = 0
    bad: int = 0

    def note(self, ok: bool, what: str) -> bool:
        """Print one line; failures stand out."""
        self.good, self.bad = self.good + ok, self.bad + (not ok)
        print(f"{'ok  ' if ok else 'FAIL'}  {what}", flush=True)
        return ok
