"""What the record tells of a machine's last job, for the next one to start with.

A job counts when it has a whole sweep. What cannot be read is passed over: whatever is wrong with
the record is told when it is opened, and a job can do without.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.bench.timekeeping import seconds_between, spoken_day
from assistant.dialogue.facts import LastJob, Learnt
from assistant.dialogue.formatting import SPOKEN_STEP, rounded, tolerance_here
from assistant.dialogue.machine import LEAVES, Profile
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.packing import PACKS, response_of, trials_of
from assistant.dialogue.state import State
from assistant.metrology.response import Response
from assistant.records.faults import RecordError
from assistant.records.journal.codec import DamagedEvent
from assistant.records.journal.journal import JobRow, Journal
from assistant.records.journal.resume import load_state
from assistant.records.names import file_name_of, one_line

LOOKED_BACK = 12
"""Jobs of the machine that are looked into, newest first: further back little holds."""

MOST_EVENTS = 2000
"""A job of more events, ten times a usual one, is passed over: nobody waits for its replay."""

_DAY_S = 86400.0


def last_job(journal: Journal, profile: Profile, at: str) -> LastJob | None:
    """How the machine's last job left it, told at the time ``at``; None where there is none."""
    told: LastJob | None = None
    square_known = False
    for old in _jobs(journal, profile.name):
        square, learnt = old.square, old.learnt(at)
        if told is None:
            told = _told(old, learnt, profile, at)
        else:
            learnt = tuple(one for one in learnt if one.kind not in {k.kind for k in told.learnt})
            day = "" if square_known or not square else spoken_day(old.at, at)
            told = replace(told, square_day=told.square_day or day, learnt=(*told.learnt, *learnt))
        square_known = square_known or square
        if square_known and (told.learnt or profile.kind not in LEAVES):
            break
    return told


@dataclass(frozen=True, slots=True)
class _Old:
    """An earlier job as it was left, and when it was worked on last."""

    state: State
    at: str

    @property
    def square(self) -> bool:
        """Whether it was finished and left within its tolerance."""
        left = self.state.as_left
        return self.state.phase is Close.CLOSED and left is not None and left.verdict == "within"

    def learnt(self, at: str) -> tuple[Learnt, ...]:
        """What shims did in it."""
        state, left = self.state, self.state.as_left
        found: dict[str, Response] = {}
        if left is not None and state.shims.trials:
            found["shim"] = left.shim.response
        found |= {kind: response_of(state, kind) for kind in PACKS if trials_of(state, kind)}
        over, days = state.profile.sweep_diameter, max(seconds_between(self.at, at), 0.0) / _DAY_S
        return tuple(
            Learnt(kind, known.value, known.uncertainty, over, days, self.at)
            for kind, known in found.items()
            if known.value > 0 and known.uncertainty > 0
        )


def _jobs(journal: Journal, machine: str) -> Iterator[_Old]:
    """The jobs of this machine that have a whole sweep, the one worked on last first."""
    rows = [
        row
        for row in reversed(journal.jobs())
        if 0 < row.events <= MOST_EVENTS and _same(row.machine, machine)
    ]
    # A job begun earlier may have been finished later.
    recent = [(_last_at(journal, row), row) for row in rows[:LOOKED_BACK]]
    for at, row in sorted(recent, key=lambda each: each[0], reverse=True):
        try:
            state = load_state(journal, row.id)
        except (RecordError, ValueError):
            # An event that cannot be read, a profile that no file could hold, no job at all.
            continue
        if state is not None and state.usable_sweeps:
            yield _Old(state, at)


def _same(one: str, other: str) -> bool:
    """Whether two names are of one machine: those of one file are."""
    try:
        return file_name_of(one) == file_name_of(other)
    except RecordError:
        return one == one_line(other)


def _last_at(journal: Journal, row: JobRow) -> str:
    try:
        return journal.events(row.id, after=row.events - 1)[-1].at
    except (RecordError, DamagedEvent):
        return row.started_at


def _told(old: _Old, learnt: tuple[Learnt, ...], profile: Profile, at: str) -> LastJob:
    """The last job, in counts of the machine's scale as it is now."""
    state, left = old.state, old.state.as_left
    then, now = state.profile.scale, profile.scale
    counts = then.count_mm / now.count_mm

    def shim(total: Decimal) -> Decimal:
        return total if counts == 1 else rounded(total * counts, SPOKEN_STEP)

    standing = None if left is None or left.inside_noise else left.tilt * float(counts)
    return LastJob(
        old.at,
        spoken_day(old.at, at),
        state.phase is Close.CLOSED,
        standing,
        tolerance_here(state.profile) if old.square else None,
        "",
        shim(state.shims.total),
        shim(state.packing.under_back),
        shim(state.packing.under_left),
        learnt,
    )
