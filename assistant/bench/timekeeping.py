"""Time stamps for events, and noticing that somebody set the clock.

Time stamps are for people: the order of events is that of their numbers, and what is waited
for is measured by a clock that cannot be set.
"""

import time
from collections.abc import Callable
from datetime import UTC, datetime

CLOCK_STEP_S = 2.0
"""A clock that is kept right by a time server drifts less than this between two events."""


def now() -> str:
    """The time in UTC, ISO 8601 to the millisecond; the time zone does not matter to it."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def seconds_between(earlier: str, later: str) -> float:
    """Seconds from one time stamp to another; zero when one of them is none."""
    try:
        return (datetime.fromisoformat(later) - datetime.fromisoformat(earlier)).total_seconds()
    except (ValueError, TypeError):
        return 0.0


def steady() -> float:
    """Seconds of a clock that cannot be set and that runs on while the computer sleeps."""
    return time.clock_gettime(_STEADY) if _STEADY is not None else time.monotonic()


_STEADY: int | None = getattr(time, "CLOCK_BOOTTIME", None)


class ClockWatch:
    """Compares the clock that can be set with one that cannot."""

    def __init__(
        self, wall: Callable[[], float] = time.time, steady: Callable[[], float] = steady
    ) -> None:
        self._wall, self._steady = wall, steady
        self._offset = wall() - steady()

    def set_by_s(self) -> float:
        """By how many seconds it was set since the last call, backwards negative; 0 if not."""
        offset = self._wall() - self._steady()
        moved = offset - self._offset
        self._offset = offset
        return round(moved, 1) if abs(moved) > CLOCK_STEP_S else 0.0
