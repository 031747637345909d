"""The countdown of a step while its fields are used; the bell rings at its end."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from textual.timer import Timer
from textual.widgets import Static

from engine.catalogue import Reading
from tui.screens.countdown import CountdownPage, clock_words, large
from tui.text import content

ROOM_FOR_FIGURES = 36
"""Rows of a terminal that has room for large figures under the fields."""


def due_at_the_end(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Return the readings that are taken when the wait is over: the numbers of the last engine state named.

    A step that waits has the state held that long, and lists it last; what is read in the states before it,
    and what is only looked at, can be entered while the time runs.
    """
    numbers = [reading for reading in readings if reading.kind == "num"]
    last = numbers[-1].state if numbers else ""
    return tuple(reading for reading in numbers if reading.state == last)


class WaitLine(Static):
    """Shows what is left, in large figures where there is room; nothing while no time runs."""

    def __init__(
        self, seconds: float, readings: Sequence[Reading], clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__("", id="wait", markup=False)
        self.seconds, self.clock = seconds, clock
        self.readings = tuple(readings)
        self.ends_at: float | None = None
        self.is_over = False
        self._beat: Timer | None = None

    def on_mount(self) -> None:
        """Take no room before it runs."""
        self.display = False

    def meanwhile(self) -> str:
        """Say which readings wait for the end and which may be entered before it."""
        due = due_at_the_end(self.readings)
        free = [reading for reading in self.readings if reading not in due]
        if not due or not free:
            return ""
        several = "" if len(free) == 1 else f" and {len(free) - 1} more"
        return f"May be entered meanwhile: {free[0].label}{several}."

    def start(self) -> float:
        """Begin, or go on when it runs already; return the seconds left."""
        if self.ends_at is None or self.is_over:
            self.ends_at = self.clock() + self.seconds
            self.is_over = False
            if self._beat is None:
                self._beat = self.set_interval(0.25, self.tick)
        self.tick()
        return self.ends_at - self.clock()

    def tick(self) -> None:
        """Draw what is left; ring once at the end, unless the large page over the step does."""
        if self.ends_at is None or self.is_over:
            return
        left = max(round(self.ends_at - self.clock() + 0.49), 0)
        self.display = True
        if left == 0:
            self.is_over = True
            self.update(content(" Time is up: read now. ", "bold reverse"))
            if not isinstance(self.app.screen, CountdownPage):
                self.app.bell()
            return
        words = f" {clock_words(left)} left. "
        if self.app.size.height >= ROOM_FOR_FIGURES and self.screen.is_current:
            self.update(content("\n".join(large(clock_words(left))), "bold"))
        else:
            self.update(content(words, "bold reverse"))
