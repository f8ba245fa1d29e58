"""What comes of something that was said or typed: the state, words, and where the job goes.

A procedure returns a turn and puts no question itself: the door puts it, once.
"""

from dataclasses import dataclass
from enum import Enum, auto
from typing import Literal

from assistant.dialogue.messages import Effect
from assistant.dialogue.phases import Phase
from assistant.dialogue.state import State


class Outcome(Enum):
    """How a procedure ended, or what is wanted of another one; the job decides what follows."""

    DONE = auto()
    """This procedure is done: on to the next that is due."""
    BEFORE_SET_UP = auto()
    """Back from the set-up to what was asked before it."""
    SET_UP_CHANGED = auto()
    """Sweep diameter and tolerance were gone through."""
    SPINDLE_DONE = auto()
    """The spindle was checked, or is not to be."""
    NOISE_WANTED = auto()
    """The noise is to be measured."""
    MEASURE = auto()
    """Everything is tight: measure, by the method of the job."""
    SWEPT = auto()
    """A sweep has all its readings, and they stand."""
    KNOWN_BETTER = auto()
    """More is known of the sweep that stands: what does it come to now?"""
    NO_FIT = auto()
    """Every doubtful station was read again, and the readings still make no plane."""
    ROD_TOUCHES = auto()
    """The bent rod rests on the table."""
    ROUND_BACK = auto()
    """The last round by touch is taken back."""
    ADVISE = auto()
    """Nothing is under way: what now?"""
    CORRECT = auto()
    """The next correction, whatever the verdict is."""
    SHIM_IN_DOUBT = auto()
    """Before the sweep that is to show what the shim did: is it the right one?"""
    PIN_OUT = auto()
    """The locating pin is out, so that the planned correction can begin."""
    PLACE_BACK = auto()
    """Back from the sweep to the other height that it was to be taken at."""
    NOT_FINISHED = auto()
    """The person does not want to finish yet."""
    NO_OTHER_HEIGHT = auto()
    """No other height is to be looked at."""
    ANOTHER_HEIGHT = auto()
    """Ask about another height."""
    FINISH = auto()
    """The job is to be closed."""


@dataclass(frozen=True, slots=True)
class Turn:
    """What comes of one event.

    ``said`` goes before the question that is put next; where ``put`` is "words" it stands in
    place of the question, which stays open; with "aside" likewise, but it is the question that is
    repeated to "say again"; with "nothing" nothing is asked or listened for.
    ``enter``: the phase that begins now. ``outcome``: the job decides instead.
    """

    state: State
    said: str = ""
    effects: tuple[Effect, ...] = ()
    put: Literal["question", "words", "aside", "nothing"] = "question"
    enter: Phase | None = None
    outcome: Outcome | None = None


def ask(state: State, said: str = "", *effects: Effect) -> Turn:
    """Stay and put the question, after a word of what went before."""
    return Turn(state, said, effects)


def tell(state: State, said: str, *effects: Effect) -> Turn:
    """Say something in place of the question, which stays open."""
    return Turn(state, said, effects, put="words")


def aside(state: State, said: str, *effects: Effect) -> Turn:
    """Say something about the answer, or about the job: whoever asks again wants the question."""
    return Turn(state, said, effects, put="aside")


def go(state: State, phase: Phase, said: str = "", *effects: Effect) -> Turn:
    """Enter a phase of this procedure: give its step, put its question."""
    return Turn(state, said, effects, enter=phase)


def done(state: State, outcome: Outcome, said: str = "", *effects: Effect) -> Turn:
    """Leave it to the job what follows."""
    return Turn(state, said, effects, outcome=outcome)


def quietly(state: State, *effects: Effect) -> Turn:
    """Ask nothing: the job is over, another one begins, or a key only adds to an entry."""
    return Turn(state, "", effects, put="nothing")
