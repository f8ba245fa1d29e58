"""Checks before a sweep is worth anything: runout, side shake, end play, travel of the quill.

Each can be skipped, and they are made on request only. What they come to is the metrology's.
"""

from dataclasses import replace
from decimal import Decimal
from typing import Final, assert_never

from assistant.dialogue.dial_setting import meant_by
from assistant.dialogue.facts import SpindleChecks
from assistant.dialogue.formatting import size_words, tolerance_counts
from assistant.dialogue.messages import Heard
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import AskSign, State
from assistant.dialogue.turn import Outcome, Turn, ask, done, go
from assistant.dialogue.wording import noted
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.spindle import lean_limits
from grammar.meaning import Reading
from grammar.numerals import number_words
from grammar.scale import Scale


class Spindle(Phase):
    """Whether it was checked, then the checks in the order made."""

    SPINDLE = "spindle checked"
    RUNOUT = "runout"
    RUNOUT_SIDE = "side of runout"
    SHAKE = "side shake"
    END_PLAY = "end play"
    QUILL = "quill travel"


# -- words -------------------------------------------------------------------------------

ASK: Final = "Spindle checked?"  # yes goes on, no makes the checks

BEGIN: Final = "Lock the table. Dial on it, tip on the bar."
"""Runout and shake are read by a dial that stands still."""


@spoken
def swing(swing: Decimal) -> str:
    """Read a swing back: it has no sign."""
    return f"{number_words(swing).capitalize()}."


NEAR_CHUCK: Final = "Near the chuck: full swing in a turn?"


@spoken
def lower(distance: str) -> str:
    """The second place along the bar."""
    return f"{distance.capitalize()} down the bar: full swing?"


SAME_SIDE: Final = "High at the same side both times?"
"""The same side is a bar off centre or leaning out, opposite sides are a bar that leans over."""

NO_RUNOUT: Final = "No runout showing."  # inside what the dial shows

OFF_CENTRE: Final = "Off centre, not leaning: won't hurt the sweep."
"""The sweep turns bar and dial as one body: how the bar is chucked is the same all round."""

LEANING: Final = "The bar leans: clean chuck and taper. Won't hurt the sweep."

TOO_MUCH: Final = "That is too much: bar, chuck or spindle. The machine's manual decides."
"""The sweep does not see it, and yet no bar in a sound chuck and spindle swings so far."""

MUCH_RUNOUT: Final = Length.of(20, "thou")
"""Full swing from which something is bent, worn or badly chucked, whatever the sweep makes of it
(judgement, no source)."""

MAY_LEAN: Final = "Off centre or leaning. Won't hurt the sweep."
"""The two swings alone do not tell one from the other."""


@spoken
def runout(near: Decimal, far: Decimal) -> str:
    """Both swings read back."""
    return f"Runout {number_words(near)}, lower {number_words(far)}."


SHAKE: Final = "Push and pull the bar sideways. Full swing?"


@spoken
def shake(value: Decimal) -> str:
    """Side shake read back."""
    return f"Side shake {number_words(value)}."


NO_SHAKE: Final = "No shake showing."
HANDS_OFF: Final = "Hands off for every reading."  # some shake: the hand must not lean on the bar

LOOSE_BEARINGS: Final = "More than the tolerance. Bearings first."
"""A spindle that is free by more than the tolerance has no direction to square a table to."""

LIFT: Final = "Tip under the bar. Lift it: how much?"
LET_GO: Final = "Let go: how much stays?"


@spoken
def end_play(value: Decimal) -> str:
    """End play read back."""
    return f"End play {number_words(value)}."


NO_END_PLAY: Final = "No end play showing."

DROPS_BACK: Final = "It drops back: won't hurt the sweep."
"""The weight holds the spindle down for every reading."""


@spoken
def stays(value: Decimal) -> str:
    """What may be in any reading is counted in."""
    return f"{number_words(value).capitalize()} stays: counted in. Never lift while turning."


@spoken
def quill_back(depth: str) -> str:
    """Travel front to back, against the blade of a square."""
    return f"Square behind the tip, dial zero. Quill down {depth}?"


@spoken
def quill_right(depth: str) -> str:
    """Travel side to side."""
    return f"Square right of the tip, zero. Quill down {depth}?"


QUILL_TRUE: Final = "Quill true to the square."


@spoken
def quill_runs(parts: str) -> str:
    """Which way the quill runs as it goes down; the words are those of ``quill_part``."""
    return f"Quill runs {parts}. Holes follow it."


@spoken
def quill_part(value: Decimal, side: str) -> str:
    """One direction of it."""
    return f"{number_words(abs(value))} {side}"


NOT_CHECKED: Final = "Nothing checked."  # every check was left out


# -- runout ------------------------------------------------------------------------------


def _runout_asked(state: State) -> str:
    if state.spindle.near is None:
        return NEAR_CHUCK
    return lower(size_words(SpindleChecks.apart(state.profile.scale), state.profile.scale))


def _begin(state: State, _: Heard) -> Turn:
    """No to "spindle checked?": check it, from the beginning."""
    return go(replace(state, spindle=SpindleChecks()), Spindle.RUNOUT, BEGIN)


def _runout(state: State, called: Reading, _: Heard) -> Turn:
    """The full swing of the dial at one place, and then at the other."""
    size = abs(called.value)
    if state.spindle.near is None:
        return ask(_with(state, near=size), swing(size))
    both = _with(state, far=size)
    if _seen(both.spindle.near, state) and _seen(size, state):
        return go(both, Spindle.RUNOUT_SIDE, swing(size))
    # One of them is nothing, so that it has no side.
    told = _with(both, same_side=True)
    return go(told, Spindle.SHAKE, runout_words(told))


def _no_runout(state: State, _: Heard) -> Turn:
    return go(_with(state, near=None, far=None), Spindle.SHAKE)


def _runout_back(state: State, _: Heard) -> Turn:
    if state.spindle.near is not None:
        return ask(_with(state, near=None, far=None))
    return go(state, Spindle.SPINDLE)


def _side(state: State, same: bool | None) -> Turn:
    told = _with(state, same_side=same)
    return go(told, Spindle.SHAKE, runout_words(told))


def runout_words(state: State) -> str:
    """Runout at both places, and whether the bar sits off centre or leans."""
    done = state.spindle
    if done.near is None or done.far is None:
        return ""
    told = runout(done.near, done.far)
    if not _seen(done.near, state) and not _seen(done.far, state):
        return f"{told} {NO_RUNOUT}"
    if too_much(done, state.profile.scale):
        return f"{told} {TOO_MUCH}"
    match quill_leans(done, state.profile.scale):
        case True:
            return f"{told} {LEANING}"
        case False:
            return f"{told} {OFF_CENTRE}"
        case None:
            return f"{told} {MAY_LEAN}"
        case never:
            assert_never(never)


def too_much(done: SpindleChecks, scale: Scale) -> bool:
    """Whether the bar swings by more than any sound machine's."""
    unit: Unit = "thou" if scale.system == "thou" else "hundredth"
    most = MUCH_RUNOUT.to(unit)
    return any(swing is not None and swing >= most for swing in (done.near, done.far))


def lean_bounds(done: SpindleChecks) -> tuple[float, float] | None:
    """Least and greatest change of the bar's offset between the two places, in counts."""
    if done.near is None or done.far is None:
        return None
    least, most = lean_limits(float(done.near), float(done.far), 1.0)
    if done.same_side is None:
        return least, most
    # Sides are told by eye, to the half turn: opposite ones add up, like ones take off.
    return (least, least) if done.same_side else (most, most)


def quill_leans(done: SpindleChecks, scale: Scale) -> bool | None:
    """Whether the bar is held at an angle; None when the swings alone cannot tell."""
    bounds = lean_bounds(done)
    if bounds is None:
        return None
    # A swing is known to a step either way, an offset to half of that.
    seen = [bound > float(scale.step) for bound in bounds]
    return seen[0] if seen[0] == seen[1] else None


# -- side shake --------------------------------------------------------------------------


def _shake(state: State, called: Reading, _: Heard) -> Turn:
    told = _with(state, shake=abs(called.value))
    return go(told, Spindle.END_PLAY, shake_words(told))


def _shake_back(state: State, _: Heard) -> Turn:
    return go(_with(state, near=None, far=None, same_side=None), Spindle.RUNOUT)


def shake_words(state: State) -> str:
    """Side shake, and what to do about it."""
    value = state.spindle.shake
    if value is None:
        return ""
    if not _seen(value, state):
        return NO_SHAKE
    loose = float(value) > tolerance_counts(state.profile)
    return f"{shake(value)} {LOOSE_BEARINGS if loose else HANDS_OFF}"


# -- end play ----------------------------------------------------------------------------


def _end_play(state: State, called: Reading, _: Heard) -> Turn:
    """How far it goes up, and how much of that stays when it is let go."""
    size, lifted = abs(called.value), state.spindle.lifted
    if lifted is None and _seen(size, state):
        return ask(_with(state, lifted=size), swing(size))
    if lifted is None:
        return _end_play_known(_with(state, lifted=size, stays=Decimal(0)))
    return _end_play_known(_with(state, stays=min(size, lifted or size)))


def _end_play_known(told: State) -> Turn:
    return go(told, Spindle.QUILL, end_play_words(told))


def _end_play_left_out(state: State, _: Heard) -> Turn:
    # Lifted and not let go is taken as worst: all of it may stay.
    return _end_play_known(_with(state, stays=state.spindle.lifted))


def _end_play_back(state: State, _: Heard) -> Turn:
    if state.spindle.lifted is not None:
        return ask(_with(state, lifted=None, stays=None))
    return go(_with(state, shake=None), Spindle.SHAKE)


def end_play_words(state: State) -> str:
    """End play, and how much of it may be in any reading."""
    lifted, left = state.spindle.lifted, state.spindle.stays
    if lifted is None or left is None:
        return ""
    if not _seen(lifted, state):
        return NO_END_PLAY
    more = stays(left) if _seen(left, state) else DROPS_BACK
    return f"{end_play(lifted)} {more}"


# -- travel of the quill -----------------------------------------------------------------


def _quill_asked(state: State) -> str:
    depth = size_words(SpindleChecks.depth(state.profile.scale), state.profile.scale)
    return quill_back(depth) if state.spindle.back is None else quill_right(depth)


def _quill(state: State, called: Reading, heard: Heard) -> Turn:
    """Which way the quill runs wants a sign, as far as the face of the dial does not tell."""
    meant = called if called.signed else meant_by(state, called)
    if isinstance(meant, tuple):
        # No quill leaves a square by half a turn of the hand: the nearer one is meant.
        meant = meant[0]
    if not isinstance(meant, Reading) or not meant.signed:
        pending = AskSign(called, heard.words, heard.confidence, heard.alternatives)
        return ask(replace(state, pending=pending))
    # On a reversed dial a plunger that goes in counts down.
    value = -meant.value if state.profile.instrument.higher == "minus" else meant.value
    if state.spindle.back is None:
        return ask(_with(state, back=value), noted(meant.value))
    return _finish(_with(state, right=value))


def _quill_taken_back(state: State, _: Heard) -> Turn:
    if state.spindle.back is not None:
        return ask(_with(state, back=None))
    return go(_with(state, lifted=None, stays=None), Spindle.END_PLAY)


def quill_words(state: State) -> str:
    """Which way the quill runs as it goes down, seen from above."""
    done = state.spindle
    ways = ((done.back, "back", "front"), (done.right, "right", "left"))
    read = [(value, plus, minus) for value, plus, minus in ways if value is not None]
    parts = [
        quill_part(value, plus if value > 0 else minus)
        for value, plus, minus in read
        if _seen(abs(value), state)
    ]
    if parts:
        return quill_runs(" and ".join(parts))
    return QUILL_TRUE if read else ""


def _finish(state: State) -> Turn:
    nothing = state.spindle == SpindleChecks()
    return done(state, Outcome.SPINDLE_DONE, NOT_CHECKED if nothing else quill_words(state))


# -- rows --------------------------------------------------------------------------------


def _with(state: State, **known: Decimal | bool | None) -> State:
    found = replace(state.spindle, **known)  # type: ignore[arg-type]
    return replace(state, spindle=found)


def _seen(size: Decimal | None, state: State) -> bool:
    """Whether a swing is more than the finest step that the dial is read to."""
    return size is not None and size > state.profile.scale.step


PROCEDURE = Procedure(
    (
        Row(
            Spindle.SPINDLE,
            "CHECK?",
            ASK,
            {"yes": Outcome.SPINDLE_DONE, "no": _begin, "disregard": SetUp.TOLERANCE},
            instead=("done",),
            how="Yes if it runs true. No checks it.",
        ),
        Row(
            Spindle.RUNOUT,
            "TURN",
            _runout_asked,
            {"skip": _no_runout, "disregard": _runout_back},
            on_number=_runout,
            readings=True,
            stations=False,
            how="Highest less lowest, turned once by hand.",
        ),
        Row(
            Spindle.RUNOUT_SIDE,
            "SIDE?",
            SAME_SIDE,
            {
                "yes": lambda state, _: _side(state, True),
                "no": lambda state, _: _side(state, False),
                "skip": lambda state, _: _side(state, None),
                "disregard": lambda state, _: go(_with(state, far=None), Spindle.RUNOUT),
            },
            how="Chalk the high side, then look lower down.",
        ),
        Row(
            Spindle.SHAKE,
            "SHAKE",
            SHAKE,
            {"skip": Spindle.END_PLAY, "disregard": _shake_back},
            on_number=_shake,
            readings=True,
            stations=False,
            how="Tip on the bar. Push once, pull once.",
        ),
        Row(
            Spindle.END_PLAY,
            "LIFT",
            lambda state: LIFT if state.spindle.lifted is None else LET_GO,
            {"skip": _end_play_left_out, "disregard": _end_play_back},
            on_number=_end_play,
            readings=True,
            stations=False,
            how="Lift the spindle, read, let it go.",
        ),
        Row(
            Spindle.QUILL,
            "DOWN",
            _quill_asked,
            {"skip": lambda state, _: _finish(state), "disregard": _quill_taken_back},
            on_number=_quill,
            readings=True,
            how="Run the dial along the standing square.",
        ),
    ),
)
