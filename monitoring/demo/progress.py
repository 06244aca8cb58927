"""A progress line for people who wait: rewritten on a terminal, a few plain lines elsewhere."""

from typing import TextIO

WIDTH = 30
LINES = 10  # without a terminal


class Progress:
    """Counts steps and shows how far the work is."""

    def __init__(self, total: int, out: TextIO) -> None:
        self.total, self.out, self.done, self.shown = max(1, total), out, 0, -1
        self.on_terminal = hasattr(out, "isatty") and out.isatty()

    def step(self, what: str, number: int = 1) -> None:
        """Say that more is done; without a terminal only every tenth part is printed."""
        self.done = min(self.total, self.done + number)
        part = self.done * (100 if self.on_terminal else LINES) // self.total
        if part == self.shown:
            return
        self.shown = part
        filled = WIDTH * self.done // self.total
        line = f"[{'#' * filled}{'.' * (WIDTH - filled)}] {100 * self.done // self.total:3d} %  {what}"
        self.out.write(f"\r{line:<78}" if self.on_terminal else line + "\n")
        self.out.flush()

    def finish(self, what: str) -> None:
        """Show the end and leave the line."""
        self.shown = -1
        self.step(what, self.total)
        if self.on_terminal:
            self.out.write("\n")
