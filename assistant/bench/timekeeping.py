"""Time stamps for events, and noticing that somebody set the clock.

Time stamps are for people: the order of events is that of their numbers, and what is waited
for is measured by a clock that cannot be set.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from assistant.dialogue.machine import Profile
from grammar.numerals import number_words

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


def aged(profile: Profile, at: str) -> Profile:
    """The profile with the age of what was measured of its noise, at a job that begins ``at``."""
    return replace(
        profile,
        surface_days=_days_from(profile.surface_on, at),
        relock_days=_days_from(profile.relock_on, at),
    )


def _days_from(day: str, at: str) -> float:
    """Days from one day to a time; none where either is none, or the clock was set back."""
    return max(seconds_between(f"{day}T00:00:00Z", at) // 86400, 0.0)


def spoken_day(then: str, at: str) -> str:
    """How a day is spoken of, by the local calendar; nothing where either is not a time stamp.

    >>> spoken_day("2031-03-04T12:00:00Z", "2031-03-05T12:00:00Z")
    'yesterday'
    """
    try:
        before, today = (datetime.fromisoformat(each).astimezone().date() for each in (then, at))
    except (ValueError, TypeError, OverflowError):
        return ""
    days = (today - before).days
    if days <= 1:
        return "yesterday" if days == 1 else "today"
    if days < 7:
        return before.strftime("%A")
    count, what = (days // 7, "week") if days < 60 else (days // 30, "month")
    if days >= 730:
        count, what = days // 365, "year"
    return f"{number_words(Decimal(count))} {what}{'s' * (count > 1)} ago"


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
