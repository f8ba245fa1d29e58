"""A job as its events tell it: what was accepted, taken back, found, told and done.

Belongs here: one replay that reports and exports share. Not here: how any of it is shown.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from assistant.dialogue.messages import Event, Result, Resumed, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.state import CompletedSweep, State, Taken, Undone
from assistant.dialogue.step import step
from assistant.metrology.answer import Answer
from assistant.records.faults import RecordError
from assistant.records.journal.codec import DamagedEvent
from assistant.records.journal.journal import JobRow, Journal


@dataclass(frozen=True, slots=True)
class Kept:
    """An accepted reading; ``number``: of the event, from 1. ``undone``: taken back, how."""

    number: int
    taken: Taken
    undone: Undone | None


@dataclass(frozen=True, slots=True)
class ToldStep:
    """A step that the person was told to do; ``number``: of the event that led to it."""

    number: int
    sweep: int
    step: Step


@dataclass(frozen=True, slots=True)
class History:
    """A job replayed. ``damage``: why the events after those here cannot be read, or None.

    ``readings``: every accepted one in order, those taken back among them.
    """

    row: JobRow
    events: tuple[Event, ...]
    state: State
    readings: tuple[Kept, ...]
    steps: tuple[ToldStep, ...]
    damage: DamagedEvent | None = None

    @property
    def standing(self) -> tuple[Kept, ...]:
        """The readings that were not taken back."""
        return tuple(kept for kept in self.readings if kept.undone is None)

    @property
    def undone(self) -> tuple[Kept, ...]:
        """The readings that were taken back."""
        return tuple(kept for kept in self.readings if kept.undone is not None)

    @property
    def sweeps(self) -> tuple[CompletedSweep, ...]:
        """The completed sweeps, refused ones among them."""
        return self.state.sweeps

    @property
    def as_found(self) -> Answer | None:
        """The first answer that counts."""
        return self.state.as_found

    @property
    def as_left(self) -> Answer | None:
        """The last answer that counts."""
        return self.state.as_left

    @property
    def finished(self) -> bool:
        """Whether the person went through to the end, and did not just stop."""
        return self.state.phase == "closed"


def history_of(journal: Journal, job_id: str) -> History:
    """The history of a job in the record, as far as its events can be read.

    Raises RecordError when not even its beginning can be.
    """
    row = journal.job(job_id)
    events, damage = journal.readable_events(job_id)
    return replay(row, events, damage)


def replay(row: JobRow, events: Iterable[Event], damage: DamagedEvent | None = None) -> History:
    """The history that these events make; raises RecordError if they are not a job."""
    state: State | None = None
    found: dict[int, tuple[int, Taken]] = {}
    taken_back: dict[int, Undone] = {}
    steps: list[ToldStep] = []
    seen: list[Event] = []
    resumed_in: Phase | None = None
    for number, event in enumerate(events, 1):
        before = state
        try:
            state, effects = step(state, event)
        except ValueError as error:
            # NotStarted, or a profile that no file could hold: nothing of ours wrote it.
            raise RecordError("bad_input", f"job {row.id}, event {number}: {error}") from None
        seen.append(event)
        if before is None or before.readings is not state.readings:
            _note_new(found, number, state)
            taken_back |= {id(undone.taken): undone for undone in state.undone}
        sweep = state.sweep_number - any(isinstance(effect, Result) for effect in effects)
        fresh = [ToldStep(number, sweep, effect) for effect in effects if isinstance(effect, Step)]
        if isinstance(event, Resumed):
            resumed_in = state.phase
        elif fresh and resumed_in is not None:
            if resumed_in == state.phase and steps and steps[-1].step == fresh[0].step:
                # Taken up again, a job tells once more what was to be done when it stopped.
                del fresh[0]
            resumed_in = None
        steps += fresh
    if state is None:
        why = f": {damage}" if damage else ""
        raise RecordError("damaged" if damage else "no_job", f"job {row.id} has no events{why}")
    readings = tuple(
        Kept(number, taken, taken_back.get(identity)) for identity, (number, taken) in found.items()
    )
    return History(row, tuple(seen), state, _settled(readings, state), tuple(steps), damage)


def _note_new(found: dict[int, tuple[int, Taken]], number: int, state: State) -> None:
    """Note readings not seen before; a reading is the same as long as it is the same object.

    Two equal readings can stand beside each other, so that equality would not do. The values
    of ``found`` keep the objects alive, and with them their identities.
    """
    last = state.sweeps[-1].readings if state.sweeps else ()
    for taken in (*last, *state.readings):
        found.setdefault(id(taken), (number, taken))


def _settled(readings: tuple[Kept, ...], state: State) -> tuple[Kept, ...]:
    """Leave out what went without being taken back: a dial that was zeroed again, and a leaf
    for which it was told afterwards which one does not go."""
    standing = {id(taken) for sweep in state.sweeps for taken in sweep.readings}
    standing |= {id(taken) for taken in state.readings}
    return tuple(kept for kept in readings if kept.undone is not None or id(kept.taken) in standing)
