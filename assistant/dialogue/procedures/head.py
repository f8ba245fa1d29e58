"""Setting both axes by moving: the head's nod and tilt, or a free table tapped both ways.

Snug, move while the dial is watched, tighten, read again: what tightening pulled is learnt
and aimed off the next time; too large a pull is moved again at once.

The indicator rides on the head, so that nodding moves the reading at the front and at the
back, both the same way when the pivot is far behind: only differences are judged, and the
target at the front is more than half the difference. About a pivot d behind the spindle
axis the front changes by phi (d + r), the back by phi (d - r): levelling takes
-(F - B)/2 (1 + d/r) at the front. Side to side it is the tap's half, the pivot being over
the axis. How high a pivot is does not matter: a turn lifts a point by its distance beside
the pivot only (to first order). What each move did corrects d from then on.
"""

from dataclasses import replace
from decimal import Decimal
from math import sqrt
from typing import Final

from assistant.dialogue import watching
from assistant.dialogue.answer_words import lesson_words
from assistant.dialogue.corrections import (
    Correction,
    left_out,
    station_watched,
    target_shown,
    watched,
)
from assistant.dialogue.facts import MoveDone, Moving, Pull
from assistant.dialogue.formatting import amount, rounded
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Do, Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.procedures.tap import EASE_THERE, HOLD_AND_SLACK, ease, tap
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import FRONT_BACK, NOD, SIDES, TILT, Plan, State, Taken
from assistant.dialogue.sweep_answer import count_unit, moved_by_hand, noise_of
from assistant.dialogue.turn import Outcome, Turn, ask, done, go, tell
from assistant.dialogue.wording import ON_TARGET, reading, watch_this
from assistant.metrology.answer import Answer
from assistant.metrology.lengths import Length
from assistant.metrology.response import HEAD_RELATIVE, Response, learn_turn
from assistant.metrology.scatter import difference_sd
from grammar.meaning import Reading
from grammar.say import signed_words
from grammar.vocabulary import Station


class Head(Phase):
    """The hands at the bolts of the head, or at a free table."""

    SNUG_UP = "snug up"
    MOVE = "move"
    CLAMP = "clamp"


MOST_TRIES = 3
"""Times that a move is tightened before the sweep has to say what came of it."""

# -- words -------------------------------------------------------------------------------
NOD_SNUG: Final = "Support the head. Dial at the front. Nod bolts just snug. Done?"
TILT_SNUG: Final = "Support the head. Dial at the right. Head bolts just snug. Done?"
NOD_SNUG_THERE: Final = "Support the head. Nod bolts just snug. Done?"
TILT_SNUG_THERE: Final = "Support the head. Head bolts just snug. Done?"
"""Where the dial stands there already."""

SUPPORT_AND_SNUG: Final = "Support the head. Bolts just snug."
"""By itself after a done in place of the reading: nobody moves it before this was said."""


@spoken
def nod(up: bool, target: Decimal) -> str:
    """Which way to nod, and where the dial should come to at the front."""
    return f"Nod {'up' if up else 'down'}. Front to {signed_words(target)}."


@spoken
def tilt(up: bool, target: Decimal) -> str:
    """Which side of the head goes up, and where the dial should come to at the right."""
    return f"Tilt, {'right' if up else 'left'} side up. Right to {signed_words(target)}."


@spoken
def more(value: str) -> str:
    """Not there yet."""
    return f"{value.capitalize()} more."


@spoken
def back(value: str) -> str:
    """Gone too far."""
    return f"Too far. Back {value}."


@spoken
def clamp_head(watch: Station) -> str:
    """Tighten, and see what that did."""
    return f"Tighten evenly. {watch.capitalize()}?"


@spoken
def clamp_table(watch: Station) -> str:
    """The same for a table."""
    return f"Lock it. {watch.capitalize()}?"


@spoken
def pulled(value: Decimal) -> str:
    """Tightening moved it too far to be left so."""
    return f"Tightening pulled {signed_words(value)}. Once more."


NOTHING_TO_MOVE: Final = "Nothing to move."  # the dial stands where it should come to

MOVE_NOT_HELD: Final = "It did not stay. Are the bolts tight?"
"""The dial was moved, and the next sweep shows nothing of it."""

# -- the hands ---------------------------------------------------------------------------


def _snug_asked(state: State) -> str:
    watch = watched(state)
    if not moves_head(state.profile):
        return watching.asked(state, watch, ease(watch), EASE_THERE)
    if watch == "front":
        return watching.asked(state, watch, NOD_SNUG, NOD_SNUG_THERE)
    return watching.asked(state, watch, TILT_SNUG, TILT_SNUG_THERE)


def _read_before(state: State, called: Reading, _: Heard) -> Turn:
    """The dial before anything is loosened: from there it is moved."""
    return watching.taken(state, watched(state), called, _begun_from)


def _begun_from(state: State, told: str) -> Turn:
    """The target from the reading just taken, or that there is nothing to move."""
    value, plan, moving = state.reread.value, state.plan, state.moving
    if value is None or plan is None:
        return ask(state, told)
    reach = Decimal(state.profile.scale.reach)
    goal = max(min(moving.goal + value - moving.start, reach), -reach)
    watch = watched(state)
    step = aim_step(state.profile, plan.kind, watch, value, goal, moving.pull_at(watch))
    if step.dial_target == value:
        return left_out(state, _axis(plan.kind), f"{told} {NOTHING_TO_MOVE}")
    begun = replace(state, moving=replace(moving, start=value, goal=goal))
    return ask(replace(begun, plan=replace(plan, step=step)), told, _snug(state))


def _snugged(state: State, _: Heard) -> Turn:
    """It is loose; where the reading was still to come, only now told to be loosened."""
    if not watching.due(replace(state, loosened=False)):
        return go(state, Head.MOVE)
    told = SUPPORT_AND_SNUG if moves_head(state.profile) else HOLD_AND_SLACK
    return go(state, Head.MOVE, told, _snug(state))


def _snug(state: State) -> Step:
    return Step("loosen", what=_clamp(state), station=watched(state))


def _axis(kind: str) -> str:
    return FRONT_BACK if kind == NOD else SIDES


def _move_asked(state: State) -> str:
    step, watch = (state.plan.step if state.plan else None), watched(state)
    target = (step.dial_target if step else None) or Decimal(0)
    falls = ((step.change if step else None) or Decimal(0)) < 0
    if not moves_head(state.profile):
        return tap(watch, falls, target)
    # The dial falls where the head goes up.
    return (nod if watch == "front" else tilt)(falls, target)


def _clamp_asked(state: State) -> str:
    watch = watched(state)
    return clamp_head(watch) if moves_head(state.profile) else clamp_table(watch)


def _clamp(state: State) -> str:
    if not moves_head(state.profile):
        return "table lock"
    return "nod bolts" if watched(state) == "front" else "head bolts"


def _skipped(state: State, _: Heard) -> Turn:
    return left_out(state, _axis(state.plan.kind if state.plan is not None else TILT))


def _moved(state: State, called: Reading, _: Heard) -> Turn:
    """A reading at the watched station: coached while it is snug, weighed when it is tight."""
    plan = state.plan
    step = plan.step if plan else None
    if plan is None or step is None or step.station is None or step.dial_target is None:
        return done(state, Outcome.MEASURE)
    watch = step.station
    if called.station not in (None, watch):
        return ask(state, watch_this(watch))
    told = reading(watch, called.value)
    heard = replace(state, pending=None)
    if state.phase is Head.CLAMP:
        return _clamped(heard, plan, watch, called.value, told)
    return _coached(heard, plan, called.value, told)


def _coached(state: State, plan: Plan, value: Decimal, told: str) -> Turn:
    """How far still, or back, or there."""
    target = plan.step.dial_target or Decimal(0)
    counted = replace(state, moving=replace(state.moving, reading=value))
    if abs(target - value) <= state.profile.scale.step:
        return go(counted, Head.CLAMP, f"{told} {ON_TARGET}")
    return tell(counted, f"{told} {_still_to_go(counted)}")


def _still_to_go(state: State) -> str:
    """How far after the last reading, or back; nothing before one."""
    step, last = (state.plan.step if state.plan else None), state.moving.reading
    if last is None or step is None or step.dial_target is None:
        return ""
    left = step.dial_target - last
    coach = back if left * (step.change or Decimal(0)) < 0 else more
    return coach(amount(left, state.profile.scale.step))


def _clamped(state: State, plan: Plan, watch: Station, value: Decimal, told: str) -> Turn:
    """What tightening did: known from now on, and moved again where it is too much."""
    moving, target = state.moving, plan.step.dial_target or Decimal(0)
    pull = value - (target if moving.reading is None else moving.reading)
    pull = _believed(state, pull, moving.goal - moving.start)
    others = tuple(known for known in moving.pulls if known.watch != watch)
    moving = replace(
        moving, pulls=(*others, Pull(watch, pull)), tight=value, tries=moving.tries + 1
    )
    counted = replace(state, moving=moving)
    allowed = _allowed(state, watch) + watching.wanders(state)
    if abs(value - moving.goal) <= allowed or moving.tries >= MOST_TRIES:
        return done(counted, Outcome.MEASURE, told)
    again = aim_step(state.profile, plan.kind, watch, value, moving.goal, pull)
    if again.dial_target == value:
        return done(counted, Outcome.MEASURE, told)
    retried = replace(counted, plan=replace(plan, step=again))
    return go(retried, Head.SNUG_UP, f"{told} {pulled(pull)}")


def _allowed(state: State, watch: Station) -> Decimal:
    """How far from its goal the dial may be left: half of what proves the tolerance."""
    answer = state.as_left
    enough = (answer.judgement.accept_up_to or 0.0) if answer is not None else 0.0
    by_tolerance = Decimal(str(round(enough / turn_of(state, watch).value / 2, 6)))
    return max(2 * state.profile.scale.step, by_tolerance)


# -- the plan ----------------------------------------------------------------------------


def moves_head(profile: Profile) -> bool:
    """Whether it is the head that moves, and not the table."""
    return profile.kind == "head"


def turn_of(state: State, watch: Station) -> Response:
    """Change of the difference for each count that the dial moves at the watched station."""
    profile = state.profile
    radius = profile.sweep_diameter.mm / 2
    offset = -profile.nod_offset.mm if watch == "front" else profile.pivot_offset.mm
    moves = [
        (float(done.change), done.before, done.after)
        for done in state.moving.moves
        if done.watch == watch
    ]
    unit = count_unit(profile)
    u = difference_sd(noise_of(profile), unit, float(profile.scale.step))
    return learn_turn(float(offset / radius), moves, u, HEAD_RELATIVE)


def _plan(state: State, answer: Answer) -> tuple[Plan, ...]:
    """A move for each axis."""
    plans = (_plan_of(state, answer, kind) for kind in (NOD, TILT))
    return tuple(plan for plan in plans if plan is not None)


def _plan_of(state: State, answer: Answer, kind: str) -> Plan | None:
    front = kind == NOD
    axis = FRONT_BACK if front else SIDES
    watch: Station = "front" if front else "right"
    off = answer.front_minus_back if front else answer.right_minus_left
    now = dial_at(state, watch)
    if axis in state.axis_left_out or now is None:
        return None
    turn = turn_of(state, watch)
    step, reach = state.profile.scale.step, Decimal(state.profile.scale.reach)
    goal = rounded(now - Decimal(str(off / turn.value)), step)
    # What the dial cannot show cannot be aimed at: as far as it goes, and then once more.
    goal = max(min(goal, reach), -reach)
    left = off + turn.value * float(goal - now)
    if goal == now or abs(left) >= abs(off):
        return None
    told = aim_step(state.profile, kind, watch, now, goal, state.moving.pull_at(watch))
    if told.dial_target == now:
        return None
    fb, rl = answer.front_minus_back, answer.right_minus_left
    return Plan(kind, told, left if front else fb, rl if front else left, state.shims.total)


def aim_step(
    profile: Profile, kind: str, watch: Station, now: Decimal, goal: Decimal, pull: Decimal
) -> Step:
    """The step for the hands: the dial is brought to the goal less what tightening adds."""
    reach = Decimal(profile.scale.reach)
    aim = max(min(goal - pull, reach), -reach)
    do: Do = "tap"
    if moves_head(profile):
        do = "nod" if kind == NOD else "tilt"
    return Step(do, station=watch, change=aim - now, dial_target=aim)


def _believed(state: State, pull: Decimal, asked: Decimal) -> Decimal:
    """A pull as far as the move goes that is asked for, or as bolts usually pull.

    Three thou, and no less than three marks of the dial, is a judgement. A call that was wrong
    would be aimed off for good.
    """
    profile = state.profile
    usual = max(Length.of(3, "thou").to(count_unit(profile)), 3 * profile.scale.step)
    most = max(abs(asked), usual)
    return max(min(pull, most), -most)


def dial_at(state: State, watch: Station) -> Decimal | None:
    """What the dial showed there in the last sweep, its zero as it still stands."""
    usable = state.usable_sweeps
    readings: tuple[Taken, ...] = usable[-1].readings if usable else ()
    return next((taken.value for taken in readings if taken.station == watch), None)


def _begun(state: State) -> Moving:
    """What is known of moves, with the one that the plan asks for begun."""
    step = state.plan.step if state.plan else None
    if step is None or step.station is None or step.dial_target is None:
        return state.moving
    pull = state.moving.pull_at(step.station)
    return replace(
        state.moving,
        start=step.dial_target - (step.change or Decimal(0)),
        goal=step.dial_target + pull,
        reading=None,
        tight=None,
        tries=0,
    )


def _learn(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A move of head or table: what it did to the difference, for what the dial did."""
    front = plan.kind == NOD
    part = answer.budget.front_minus_back if front else answer.budget.right_minus_left
    was, expected, now = (
        (before.front_minus_back, plan.expected_fb, answer.front_minus_back)
        if front
        else (before.right_minus_left, plan.expected_rl, answer.right_minus_left)
    )
    has_moved = state.moving.reading is not None or state.moving.tight is not None
    noise = 2 * sqrt(2) * part.u
    if has_moved and abs(was - expected) > 2 * noise and abs(was - now) <= noise:
        # Not a move: learnt from, it would ask for one many times too far.
        return state, MOVE_NOT_HELD
    learnt = replace(state, moving=_taught(state, plan, before, answer))
    words = ""
    if has_moved:
        words = lesson_words(expected, now, moved_by_hand(state, was - expected), state.profile)
    return learnt, words


def _taught(state: State, plan: Plan, before: Answer, answer: Answer) -> Moving:
    """The moves known, with the one that this sweep completes."""
    moving, watch = state.moving, plan.step.station
    at_end = moving.reading if moving.tight is None else moving.tight
    if at_end is None or watch is None or at_end == moving.start:
        return moving
    front = plan.kind == NOD
    done = MoveDone(
        watch,
        at_end - moving.start,
        before.front_minus_back if front else before.right_minus_left,
        answer.front_minus_back if front else answer.right_minus_left,
    )
    learnt = replace(state, moving=replace(moving, moves=(*moving.moves, done)))
    # A move that turned it the wrong way was no move: something else moved, or the call is wrong.
    return learnt.moving if turn_of(learnt, watch).value > 0 else moving


CORRECTION = Correction(
    ("head", "free"),
    (NOD, TILT),
    Head.SNUG_UP,
    _plan,
    _learn,
    prepare=lambda state: replace(state, moving=_begun(state)),
)

PROCEDURE = Procedure(
    (
        Row(
            Head.SNUG_UP,
            lambda state: watching.awaits(state, "SNUG"),
            _snug_asked,
            {
                "done": _snugged,
                "skip": _skipped,
                "finish": Outcome.FINISH,
                "disregard": back_to_sweep,
            },
            weighty=("skip", "finish"),
            on_reading=_read_before,
            expected=lambda state, _: state.moving.start,
            readings=True,
            loose=True,
            station=lambda state: watched(state) if watching.due(state) else None,
            step=lambda state: None if watching.due(state) else _snug(state),
            left="correct",
            how="It must just move when pushed.",
        ),
        Row(
            Head.MOVE,
            "MOVE",
            _move_asked,
            {"done": Head.CLAMP, "disregard": Head.SNUG_UP},
            on_reading=_moved,
            readings=True,
            loose=True,
            station=station_watched,
            last_seen=lambda state: state.moving.reading,
            coaching=_still_to_go,
            step=lambda state: state.plan.step if state.plan else None,
            shows=target_shown,
            left="correct",
            how="Adjuster or light taps. Call the dial.",
        ),
        Row(
            Head.CLAMP,
            "LOCK",
            _clamp_asked,
            {"locked": Outcome.MEASURE, "disregard": Head.MOVE},
            on_reading=_moved,
            readings=True,
            loose=True,
            station=station_watched,
            last_seen=lambda state: state.moving.reading,
            step=lambda state: Step("tighten", what=_clamp(state), station=watched(state)),
            shows=target_shown,
            left="tighten",
            how="A little on each bolt, then call.",
        ),
    ),
)
