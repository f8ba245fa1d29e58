"""What names a phase of a job; the names themselves stand with the procedures."""

from enum import StrEnum


class Phase(StrEnum):
    """Where the job is. Every procedure derives its own phases from this.

    The value is what the record and ``listen`` effects show.
    """
