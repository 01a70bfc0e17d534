"""Lines that say how far long work is."""

from __future__ import annotations

from collections.abc import Callable
from typing import IO


class Ticker:
    """Keeps silent for a second, then writes a line at most every second.

    On a terminal the line is overwritten, and wiped when all is done.
    """

    def __init__(self, out: IO[str], clock: Callable[[], float]) -> None:
        self.out = out
        self.clock = clock
        self.last = clock()
        self.width = 0

    def say(self, line: str) -> None:
        """Write the line when it is time."""
        if self.clock() - self.last < 1:
            return
        self.last = self.clock()
        if self.out.isatty():
            self.out.write("\r" + line.ljust(self.width))
            self.width = max(self.width, len(line))
        else:
            self.out.write(line + "\n")
        self.out.flush()

    def wipe(self) -> None:
        """Clear the line of a terminal."""
        if self.width:
            self.out.write("\r" + " " * self.width + "\r")
            self.out.flush()
            self.width = 0
