"""Time that passes only when it is told to."""

from datetime import UTC, datetime, timedelta

START = datetime(2024, 3, 4, 9, 0, tzinfo=UTC)
"""A Monday morning of no meaning."""


class SimulatedClock:
    """Seconds since the start, and the same as time stamps for events."""

    def __init__(self, start: datetime = START) -> None:
        self.start = start
        self.seconds = 0.0

    def pass_time(self, seconds: float) -> None:
        """Let time pass; it never runs backwards. Raises ``ValueError`` if told so."""
        if seconds < 0:
            raise ValueError(f"{seconds} s: time does not run backwards")
        self.seconds += seconds

    def now(self) -> str:
        """ISO 8601 in UTC, to the millisecond."""
        at = self.start + timedelta(seconds=self.seconds)
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
