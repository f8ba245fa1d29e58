"""Checks before a sweep is worth anything: runout, side shake, end play, travel of the quill.

Belongs here: their questions and answers, each of which can be skipped. They are made on
request only. What they come to is the metrology's.
"""

from dataclasses import replace
from decimal import Decimal
from typing import assert_never

from assistant.dialogue import prompts
from assistant.dialogue.amounts import tolerance_counts
from assistant.dialogue.asking import Out, ask, go
from assistant.dialogue.dial_setting import meant_by
from assistant.dialogue.findings import SpindleChecks
from assistant.dialogue.messages import Heard
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import spindle_checks as words
from assistant.dialogue.state import AskSign, State
from assistant.metrology.spindle import lean_limits
from grammar.meaning import Reading
from grammar.scale import Scale


def begin(state: State) -> Out:
    """No to "spindle checked?": check it, from the beginning."""
    return go(replace(state, spindle=SpindleChecks()), Phase.RUNOUT, words.BEGIN)


def check_reading(state: State, called: Reading, heard: Heard) -> Out:
    """A called number: the full swing of the dial, or for the quill a reading with its sign."""
    done, size = state.spindle, abs(called.value)
    match state.phase:
        case Phase.RUNOUT if done.near is None:
            return ask(_with(state, replace(done, near=size)), words.noted(size))
        case Phase.RUNOUT:
            return _runout_read(_with(state, replace(done, far=size)), words.noted(size))
        case Phase.SHAKE:
            told = _with(state, replace(done, shake=size))
            return go(told, Phase.END_PLAY, shake_words(told))
        case Phase.END_PLAY if done.lifted is None and not _seen(size, state):
            told = _with(state, replace(done, lifted=size, stays=Decimal(0)))
            return go(told, Phase.QUILL, end_play_words(told))
        case Phase.END_PLAY if done.lifted is None:
            return ask(_with(state, replace(done, lifted=size)), words.noted(size))
        case Phase.END_PLAY:
            told = _with(state, replace(done, stays=min(size, done.lifted or size)))
            return go(told, Phase.QUILL, end_play_words(told))
        case _:
            return _quill_read(state, called, heard)


def _quill_read(state: State, called: Reading, heard: Heard) -> Out:
    """Which way the quill runs wants a sign, as far as the face of the dial does not tell."""
    meant = called if called.signed else meant_by(state, called)
    if isinstance(meant, tuple):
        # No quill leaves a square by half a turn of the hand: the nearer one is meant.
        meant = meant[0]
    if not isinstance(meant, Reading) or not meant.signed:
        pending = AskSign(called, heard.words, heard.confidence, heard.alternatives)
        return ask(replace(state, pending=pending))
    done = state.spindle
    # On a reversed dial a plunger that goes in counts down.
    value = -meant.value if state.profile.instrument.higher == "minus" else meant.value
    if done.back is None:
        return ask(_with(state, replace(done, back=value)), prompts.noted(meant.value))
    return _finish(_with(state, replace(done, right=value)))


def check_command(state: State, name: str) -> Out | None:
    """Yes, no, skip in a check; None when it is no answer."""
    match state.phase, name:
        case Phase.SPINDLE, "yes":
            return go(state, Phase.SETUP)
        case Phase.SPINDLE, "no":
            return begin(state)
        case Phase.RUNOUT, "skip":
            return go(_with(state, replace(state.spindle, near=None, far=None)), Phase.SHAKE)
        case Phase.RUNOUT_SIDE, ("yes" | "no" | "skip"):
            same = None if name == "skip" else name == "yes"
            told = _with(state, replace(state.spindle, same_side=same))
            return go(told, Phase.SHAKE, runout_words(told))
        case Phase.SHAKE, "skip":
            return go(state, Phase.END_PLAY)
        case Phase.END_PLAY, "skip":
            # Lifted and not let go is taken as worst: all of it may stay.
            done = state.spindle
            told = _with(state, replace(done, stays=done.lifted))
            return go(told, Phase.QUILL, end_play_words(told))
        case Phase.QUILL, "skip":
            return _finish(state)
        case _:
            return None


def check_back(state: State) -> Out:
    """ "Disregard": the last number of this check is gone, or the check before is made anew."""
    done = state.spindle
    match state.phase:
        case Phase.RUNOUT if done.near is not None:
            return ask(_with(state, replace(done, near=None, far=None)))
        case Phase.RUNOUT:
            return go(state, Phase.SPINDLE)
        case Phase.RUNOUT_SIDE:
            return go(_with(state, replace(done, far=None)), Phase.RUNOUT)
        case Phase.SHAKE:
            fresh = replace(done, near=None, far=None, same_side=None)
            return go(_with(state, fresh), Phase.RUNOUT)
        case Phase.END_PLAY if done.lifted is not None:
            return ask(_with(state, replace(done, lifted=None, stays=None)))
        case Phase.END_PLAY:
            return go(_with(state, replace(done, shake=None)), Phase.SHAKE)
        case Phase.QUILL if done.back is not None:
            return ask(_with(state, replace(done, back=None)))
        case _:
            return go(_with(state, replace(done, lifted=None, stays=None)), Phase.END_PLAY)


def _with(state: State, done: SpindleChecks) -> State:
    return replace(state, spindle=done, pending=None, misses=0)


def _seen(size: Decimal | None, state: State) -> bool:
    """Whether a swing is more than the finest step that the dial is read to."""
    return size is not None and size > state.profile.scale.step


def _runout_read(state: State, said: str) -> Out:
    done = state.spindle
    if _seen(done.near, state) and _seen(done.far, state):
        return go(state, Phase.RUNOUT_SIDE, said)
    # One of them is nothing, so that it has no side.
    told = _with(state, replace(done, same_side=True))
    return go(told, Phase.SHAKE, runout_words(told))


def runout_words(state: State) -> str:
    """Runout at both places, and whether the bar sits off centre or leans."""
    done = state.spindle
    if done.near is None or done.far is None:
        return ""
    told = words.runout(done.near, done.far)
    if not _seen(done.near, state) and not _seen(done.far, state):
        return f"{told} {words.NO_RUNOUT}"
    match leans(done, state.profile.scale):
        case True:
            return f"{told} {words.LEANING}"
        case False:
            return f"{told} {words.OFF_CENTRE}"
        case None:
            return f"{told} {words.MAY_LEAN}"
        case never:
            assert_never(never)


def lean_bounds(done: SpindleChecks) -> tuple[float, float] | None:
    """Least and greatest change of the bar's offset between the two places, in counts."""
    if done.near is None or done.far is None:
        return None
    least, most = lean_limits(float(done.near), float(done.far), 1.0)
    if done.same_side is None:
        return least, most
    # Sides are told by eye, to the half turn: opposite ones add up, like ones take off.
    return (least, least) if done.same_side else (most, most)


def leans(done: SpindleChecks, scale: Scale) -> bool | None:
    """Whether the bar is held at an angle; None when the swings alone cannot tell."""
    bounds = lean_bounds(done)
    if bounds is None:
        return None
    # A swing is known to a step either way, an offset to half of that.
    seen = [bound > float(scale.step) for bound in bounds]
    return seen[0] if seen[0] == seen[1] else None


def shake_words(state: State) -> str:
    """Side shake, and what to do about it."""
    value = state.spindle.shake
    if value is None:
        return ""
    if not _seen(value, state):
        return words.NO_SHAKE
    loose = float(value) > tolerance_counts(state.profile)
    return f"{words.shake(value)} {words.LOOSE_BEARINGS if loose else words.HANDS_OFF}"


def end_play_words(state: State) -> str:
    """End play, and how much of it may be in any reading."""
    lifted, left = state.spindle.lifted, state.spindle.stays
    if lifted is None or left is None:
        return ""
    if not _seen(lifted, state):
        return words.NO_END_PLAY
    more = words.stays(left) if _seen(left, state) else words.DROPS_BACK
    return f"{words.end_play(lifted)} {more}"


def quill_words(state: State) -> str:
    """Which way the quill runs as it goes down, seen from above."""
    done = state.spindle
    ways = ((done.back, "back", "front"), (done.right, "right", "left"))
    read = [(value, plus, minus) for value, plus, minus in ways if value is not None]
    parts = [
        words.quill_part(value, plus if value > 0 else minus)
        for value, plus, minus in read
        if _seen(abs(value), state)
    ]
    if parts:
        return words.quill_runs(" and ".join(parts))
    return words.QUILL_TRUE if read else ""


def _finish(state: State) -> Out:
    told = quill_words(state)
    nothing = state.spindle == SpindleChecks()
    return go(state, Phase.SETUP, words.NOT_CHECKED if nothing else told)
