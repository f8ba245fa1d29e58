"""What the hands have done, kept apart from the program: is something loose, was safety asked?

The program's own idea of it (rows that are loose, a state's flag) is not looked at: phases are
known here by their names, as a person who reads the prompts knows them.
"""

from collections import Counter
from dataclasses import dataclass, replace

from assistant.dialogue.messages import TURNED_DOWN, Event, Heard, KeyPressed, Resumed
from assistant.dialogue.state import AskCommand, State, Taken
from grammar.meaning import Command

LOOSENED_BY_DONE = ("loosen", "ease", "locating pin", "snug up", "unbolt")
"""Phases in which "done" means that something has been loosened."""

LOCKED_BY_ENTER = (
    "lock", "lock again", "tighten", "tap lock", "clamp", "bolt down", "tighten again",
    "move table",
)  # fmt: skip
"""Phases in which the keypad's Enter means that everything is tight."""

MOVING = ("snug up", "move", "clamp")
"""Phases of a head or a free table that is moved; a reading ends them when it is tight."""


@dataclass
class Hands:
    """Follows a job's events. Raises ``AssertionError`` where a rule is broken."""

    loose: bool = False
    unsafe: int = 0

    def follow(self, before: State, event: Event, after: State) -> None:
        """One event, and the states before and after it."""
        name = _meant(before, event)
        if isinstance(event, KeyPressed) and event.key == "enter" and not before.entry:
            name = "locked" if before.phase in LOCKED_BY_ENTER else "done"
        moved_on = after.phase != before.phase
        if moved_on and name == "done" and before.phase in LOOSENED_BY_DONE:
            self.loose = True
        if moved_on and (
            name == "locked" or (before.phase == "clamp" and after.phase not in MOVING)
        ):
            self.loose = False
        new = _read(after) - _read(before)
        assert not (self.loose and new), f"{list(new)} was read while something is loose"
        self._safety(before, event, after)

    def _safety(self, before: State, event: Event, after: State) -> None:
        if isinstance(event, Resumed):
            begun = after.phase != "unplugged" or bool(after.sweeps)
            self.unsafe = 2 if begun and after.phase != "closed" else 0
            return
        if not self.unsafe or after.stopped:
            return
        told = getattr(event, "turn", before.turn) == before.turn and not before.standing_by
        yes = _meant(before, event) == "yes"
        if isinstance(event, KeyPressed):
            yes = event.key == "enter" and not before.entry
        if told and yes and not isinstance(before.pending, AskCommand):
            self.unsafe -= 1
        if self.unsafe:
            same = (after.phase, after.readings) == (before.phase, before.readings)
            assert same, "the job went on without a word of safety"


def _read(state: State) -> Counter[Taken]:
    """All that was read, of this sweep and those before it; a leaf that does not go apart."""
    swept = (taken for sweep in state.sweeps for taken in sweep.readings)
    return Counter(replace(taken, no_go=None) for taken in (*swept, *state.readings))


def _meant(before: State, event: Event) -> str:
    """The command that an event comes to, surely; empty for anything else."""
    if not isinstance(event, Heard) or event.outcome in TURNED_DOWN:
        return ""
    if not isinstance(event.meaning, Command):
        return ""
    if event.meaning.name == "yes" and isinstance(before.pending, AskCommand):
        return before.pending.command.name
    return event.meaning.name
