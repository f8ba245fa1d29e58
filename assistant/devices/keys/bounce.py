"""A finger or a switch that bounces: a second Enter within a moment is not a second answer."""

BOUNCE_S = 0.2
"""A worn switch bounces for some hundredths of a second, a finger that slips presses again
within two tenths (common practice for double presses, no source). Nobody has heard the next
question by then."""

GUARDED = frozenset({"enter"})
"""Enter agrees, so that twice would answer a question that nobody asked yet; a digit may
well come twice."""


class Bounce:
    """Tells which presses count; one for all keypads. Times are in seconds."""

    def __init__(self) -> None:
        self._key = ""
        self._at = float("-inf")

    def counts(self, key: str, now: float) -> bool:
        """Whether this press is meant; each press starts the moment again."""
        again = key == self._key and now - self._at < BOUNCE_S
        self._key, self._at = key, now
        return not (again and key in GUARDED)
