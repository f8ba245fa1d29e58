"""A whole job between the dialogue and a simulated person, whatever carries their words.

Only the loop and its count of what went wrong; the words may be carried as sound, as in the
demo, or as text.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Protocol

from assistant.dialogue.messages import TURNED_DOWN, Effect, Event, Heard, Listen, Started, Tone
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.state import AskGoOn, Pending, State
from assistant.dialogue.step import step
from assistant.simulation.caller import Operator, OperatorStuck
from assistant.simulation.clock import SimulatedClock
from grammar.meaning import Meaning, Reading, Unclear
from grammar.parse import parse
from grammar.vocabulary import Station

LONGEST = 400
"""Calls after which a job is taken for an endless one."""

PATIENCE = 4
"""Calls in a row of which nothing comes, until the person gives up."""

STUBBORN = 12
"""Calls in a row that are not understood, until the person gives up."""


class Carrier(Protocol):
    """Carries words from the person to the dialogue."""

    def carry(self, words: str, listen: Listen) -> Sequence[Heard]:
        """What is heard of a call: usually one event, none if nothing comes through."""


@dataclass(slots=True)
class Tally:
    """What happened to the calls of a job.

    ``misheard``: another meaning came out than was said. ``missed``: nothing was made of
    it, so that it had to be said again. ``asked``: the dialogue asked about what it heard.
    ``ended``: empty for a job that was closed, else why it was not.
    """

    utterances: int = 0
    misheard: int = 0
    missed: int = 0
    asked: int = 0
    ended: str = ""
    shown: dict[str, tuple[Station, Decimal]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """A job that was played."""

    state: State
    events: tuple[Event, ...]
    tally: Tally

    def committed_wrong(self) -> int:
        """Readings that are kept and are not what the dial showed there at that time."""
        kept = [taken for sweep in self.state.sweeps for taken in sweep.readings]
        wrong = 0
        for taken in (*kept, *self.state.readings):
            shown = ("back", Decimal(0)) if taken.zeroed else self.tally.shown.get(taken.at)
            wrong += shown != (taken.station, taken.value)
        return wrong


def rehearse(
    operator: Operator,
    carrier: Carrier,
    clock: SimulatedClock,
    *,
    job: str = "rehearsal",
    keep: Callable[[Event], object] | None = None,
    notice: Callable[[Effect], object] | None = None,
) -> Rehearsal:
    """Play a job to its end, or until the person is stuck.

    ``keep`` is called with every event before it is acted on, ``notice`` with every effect
    in order, before the person answers.
    """
    tally = Tally()
    events: list[Event] = []

    def post(state: State | None, event: Event) -> tuple[State, tuple[Effect, ...]]:
        if keep is not None:
            keep(event)
        events.append(event)
        after, effects = step(state, event)
        if notice is not None:
            for effect in effects:
                notice(effect)
        return after, effects

    state, effects = post(None, Started(clock.now(), job, operator.profile))
    listen = _listening(effects)
    unheard = 0
    while listen is not None and not state.stopped:
        try:
            words = operator.silence() if unheard else operator.react(effects)
        except OperatorStuck as stuck:
            tally.ended = str(stuck)
            break
        if words is None or operator.calls > LONGEST:
            tally.ended = f"no end after {operator.calls} calls"
            break
        tally.utterances += 1
        heard = carrier.carry(words, listen)
        tally.missed += not heard
        if state.hearing.misses >= STUBBORN:
            tally.ended = f'"{words}" was not understood {STUBBORN} times'
            break
        gathered: list[Effect] = []
        for event in heard:
            _count(tally, event, parse(words, operator.scale))
            if operator.shown is not None:
                tally.shown[event.at] = operator.shown
            pending = state.pending
            state, new = post(state, event)
            tally.asked += _newly_asked(pending, state.pending)
            tally.missed += any(isinstance(e, Tone) and e.name == "missed" for e in new)
            gathered += new
        effects = tuple(gathered)
        answered = _listening(effects)
        if answered is not None or state.phase is Close.CLOSED:
            listen, unheard = answered, 0
            continue
        # Nothing came of it: the person waits a moment and says it once more.
        unheard += 1
        if unheard >= PATIENCE:
            tally.ended = f'"{words}" was never heard'
            break
    if state.stopped and not tally.ended:
        tally.ended = "the job was stopped"
    return Rehearsal(state, tuple(events), tally)


def _listening(effects: Sequence[Effect]) -> Listen | None:
    found = [effect for effect in effects if isinstance(effect, Listen)]
    return found[-1] if found else None


def _newly_asked(before: Pending | None, after: Pending | None) -> bool:
    return after is not None and after != before and not isinstance(after, AskGoOn)


def _count(tally: Tally, event: Heard, said: Meaning) -> None:
    if event.outcome in TURNED_DOWN or isinstance(event.meaning, Unclear):
        return
    if not same_meaning(event.meaning, said):
        tally.misheard += 1


def same_meaning(one: Meaning, other: Meaning) -> bool:
    """Whether two meanings come to the same; a unit that changes nothing does not count."""
    if isinstance(one, Reading) and isinstance(other, Reading):
        return (one.value, one.signed, one.station, one.correction) == (
            other.value, other.signed, other.station, other.correction,
        )  # fmt: skip
    return one == other
