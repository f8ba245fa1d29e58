"""Side to side by tapping the table while the dial is watched."""

from dataclasses import replace
from decimal import Decimal
from math import sqrt
from typing import Final

from assistant.dialogue.answer_words import lesson_words
from assistant.dialogue.corrections import (
    Correction,
    left_out,
    station_watched,
    target_shown,
    watched,
)
from assistant.dialogue.facts import TapDone, Taps
from assistant.dialogue.formatting import amount, rounded
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.methods import method_of, way_of
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import SIDES, Plan, State
from assistant.dialogue.sweep_answer import (
    count_unit,
    difference_here,
    moved_by_hand,
    reading_gain,
)
from assistant.dialogue.turn import Outcome, Turn, ask, go, tell
from assistant.dialogue.wording import ON_TARGET, reading, watch_this
from assistant.metrology.answer import Answer
from assistant.metrology.lengths import Length
from grammar.meaning import Reading
from grammar.say import Way, value_words
from grammar.vocabulary import Station


class Tap(Phase):
    """The hands at the table's edge."""

    EASE = "ease"
    TAP = "tap"
    TAP_LOCK = "tap lock"


# -- words -------------------------------------------------------------------------------


@spoken
def ease(watch: Station, what: str = "Dial") -> str:
    """Before tapping; ``what`` is read there."""
    return f"{what} at the {watch}. Hold the table. Slack the lock, keep some drag. Done?"


@spoken
def tap(watch: Station, down: bool, target: Decimal, way: Way = "signed") -> str:
    """Where to tap to."""
    return f"Soft mallet. Tap {watch} {'down' if down else 'up'} to {value_words(target, way)}."


@spoken
def tap_a_little(watch: Station) -> str:
    """How far is not known: a little, and see what drags first."""
    return f"Soft mallet. Tap the {watch} down a little. Done?"


@spoken
def tap_more(value: str, down: bool) -> str:
    """Not there yet."""
    return f"{value.capitalize()} more {'down' if down else 'up'}."


@spoken
def tap_back(value: str, down: bool) -> str:
    """Gone too far: ``down`` is the way back."""
    return f"Too far. Back {'down' if down else 'up'} {value}."


TAP_LOCK: Final = "Lock it. Say locked."  # after tapping
TAP_DID_NOTHING: Final = "It did not move. Is it loose? Is the pin out?"  # a tap did not show
TAP_WRONG_WAY: Final = "It went the other way. Watch the dial while locking."
"""After a tap the table leans more than before."""

SEIZED_SIDES: Final = "Side to side does not move. Seized? Leave it."
"""Taps did nothing twice running."""

LEAST_SHARE = 0.25
"""Part of what was asked that a table at least follows, if it is not seized (judgement)."""

PULLS: Final = Length.of(1, "thou")
"""Standard deviation of what locking does to right minus left, before it was seen (judgement)."""

TURNS, TURNS_LEARNT = 0.25, 0.1
"""Relative standard deviation of how far a table turns for what the dial does, before a tap showed
where it pivots and after one (judgement)."""

STILL_ASKED, STILL_LEFT = 3, 6
"""Readings running that come hardly nearer the aim, until it is asked whether the table is free,
and until the axis is left as it is (judgement)."""

TIMES = 2
"""Taps running that do nothing before the axis is left as it is."""


@spoken
def slack(watch: Station, what: str = "Dial") -> str:
    """Before tapping, in few words."""
    return f"{what} {watch}, table held, lock slack?"


@spoken
def tap_to(watch: Station, down: bool, target: Decimal, way: Way = "signed") -> str:
    """Where to tap to, in few words."""
    return f"{watch.capitalize()} {'down' if down else 'up'} to {value_words(target, way)}."


LOCKED: Final = "Locked?"  # after tapping, in few words

# -- the hands ---------------------------------------------------------------------------


def _tap_asked(state: State) -> str:
    step = state.plan.step if state.plan else None
    if step is not None and state.profile.method == "touch":
        return tap_a_little(watched(state))
    if step is None or step.change is None or step.dial_target is None:
        return TAP_LOCK
    way = way_of(state.profile)
    return tap(watched(state), step.change < 0, step.dial_target, way)


def _tap_briefly(state: State) -> str:
    step = state.plan.step if state.plan else None
    if step is None or step.change is None or step.dial_target is None:
        return _tap_asked(state)
    return tap_to(watched(state), step.change < 0, step.dial_target, way_of(state.profile))


def _tapped(state: State, called: Reading, _: Heard) -> Turn:
    """Coach the tap: how far still, which way, or there."""
    plan = state.plan
    if plan is None or plan.step.dial_target is None or plan.step.station is None:
        return go(state, Tap.TAP_LOCK)
    watch = plan.step.station
    if called.station not in (None, watch):
        return ask(state, watch_this(watch))
    counted = _counted(state, called.value, plan.step.dial_target)
    said = reading(watch, called.value, way_of(state.profile))
    if abs(plan.step.dial_target - called.value) <= state.profile.scale.step:
        return go(counted, Tap.TAP_LOCK, f"{said} {ON_TARGET}")
    if counted.taps.still >= STILL_LEFT:
        left_out = (*counted.axis_left_out, SIDES)
        given_up = replace(counted, axis_left_out=left_out)
        return go(given_up, Tap.TAP_LOCK, f"{said} {SEIZED_SIDES}")
    if counted.taps.still == STILL_ASKED:
        return tell(counted, f"{said} {TAP_DID_NOTHING}")
    return tell(counted, f"{said} {_still_to_go(counted)}")


def _counted(state: State, called: Decimal, target: Decimal) -> State:
    """The last reading, and how many running came hardly nearer the aim."""
    taps = state.taps
    stood, still = called if taps.stood is None else taps.stood, taps.still + 1
    if abs(target - stood) - abs(target - called) >= LEAST_SHARE * abs(float(target - stood)):
        stood, still = called, 0
    counted = replace(taps, reading=called, stood=stood, still=still)
    return replace(state, taps=counted, pending=None)


def _still_to_go(state: State) -> str:
    """How far after the last reading, or back; nothing before one."""
    step, last = (state.plan.step if state.plan else None), state.taps.reading
    if last is None or step is None or step.dial_target is None:
        return ""
    left = step.dial_target - last
    # By gaps the table goes down where the number goes up.
    rise = left * reading_gain(state.profile)
    coach = tap_back if rise * (step.change or Decimal(0)) < 0 else tap_more
    return coach(amount(left, state.profile.scale.step), down=rise < 0)


def _expected(state: State, _: Station | None) -> Decimal | None:
    """A reading is near the last one, or near the aim."""
    if state.taps.reading is not None:
        return state.taps.reading
    return state.plan.step.dial_target if state.plan else None


# -- the plan ----------------------------------------------------------------------------


def _plan(state: State, answer: Answer) -> tuple[Plan, ...]:
    if SIDES in state.axis_left_out or answer.tap.dial_target is None or not answer.tap.change:
        return ()
    # Locking pulls the table off again by about as much each time: it is tapped beyond by that.
    aim = answer.tap.change - state.taps.pull
    change = rounded(aim, state.profile.scale.step)
    if change == 0:
        return ()
    off = (aim - answer.tap.change) / float(reading_gain(state.profile))
    reach = Decimal(state.profile.scale.reach)
    shown = rounded(answer.tap.dial_target + off, state.profile.scale.step)
    target = max(min(shown, reach), -reach)
    step = Step("tap", station=answer.tap.watch, change=change, dial_target=target)
    nodded = answer.coupling.tap_on_front * float(change) if answer.coupling else 0.0
    left = answer.right_minus_left * (float(change) - aim) / -answer.tap.change
    fronts = answer.front_minus_back + nodded
    return (Plan("tap", step, fronts, left, state.shims.total),)


def _learn(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A tap shows where the table pivots: how far both sides went for what the dial did."""
    if SIDES in state.axis_left_out:
        return state, ""
    was, now = before.right_minus_left, answer.right_minus_left
    asked, followed = plan.expected_rl - was, now - was
    u_change = sqrt(2) * difference_here(state)
    reached = _on_target(state, plan)
    if not reached and abs(asked) > 3 * u_change and followed / asked < LEAST_SHARE:
        return _did_nothing(state, followed / asked)
    words = lesson_words(plan.expected_rl, now, moved_by_hand(state, asked), state.profile)
    taps = replace(state.taps, did_nothing=0)
    if reached and was:
        # What the dial showed before locking was as asked: what is missing now, locking took.
        half = before.tap.change / -was
        pull = taps.pull + _share_of_pull(state, asked, u_change) * (now - plan.expected_rl) * half
        taps = replace(taps, pull=max(min(pull, abs(was)), -abs(was)))
    return replace(state, taps=_with_this(taps, plan, state, before, answer)), words


def _share_of_pull(state: State, asked: float, u_change: float) -> float:
    """The part of a miss that locking most likely made: the rest is the pivot's, and noise.

    By their variances, as in any least squares estimate of one term among several.
    """
    pull = float(PULLS.to(count_unit(state.profile))) ** 2
    turned = (TURNS_LEARNT if state.taps.done else TURNS) * asked
    return pull / (pull + turned**2 + u_change**2)


def _with_this(taps: Taps, plan: Plan, state: State, before: Answer, answer: Answer) -> Taps:
    """What taps did, with this one, if the dial was read: net of what locking took."""
    step, last = plan.step, state.taps.reading
    if last is None or step.dial_target is None or step.change is None:
        return taps
    # The dial stood at target less change when the tapping began, as far as the dial shows it.
    by_dial = (last - step.dial_target) * reading_gain(state.profile) + step.change
    change = by_dial + Decimal(str(round(taps.pull, 6)))
    if not change:
        return taps
    sides = before.right_minus_left, answer.right_minus_left
    fronts = before.front_minus_back, answer.front_minus_back
    return replace(taps, done=(*taps.done, TapDone(change, *sides, *fronts)))


def _on_target(state: State, plan: Plan) -> bool:
    """Whether the dial was brought to where it was to stand before locking."""
    step, last = plan.step, state.taps.reading
    if last is None or step.dial_target is None:
        return False
    return abs(last - step.dial_target) <= state.profile.scale.step


def _did_nothing(state: State, share: float) -> tuple[State, str]:
    """Said once; the second time this axis is left as it is, and the cause told."""
    times = state.taps.did_nothing + 1
    counted = replace(state, taps=replace(state.taps, did_nothing=times))
    if times < TIMES:
        return counted, TAP_WRONG_WAY if share < -LEAST_SHARE else TAP_DID_NOTHING
    return replace(counted, axis_left_out=(*state.axis_left_out, SIDES)), SEIZED_SIDES


def _learn_again(state: State, before: Answer, answer: Answer) -> State:
    taps = state.taps.done
    if not taps or taps[-1].after != before.right_minus_left:
        return state
    now = answer.front_minus_back, answer.right_minus_left
    better = replace(taps[-1], after=now[1], front_after=now[0])
    return replace(state, taps=replace(state.taps, done=(*taps[:-1], better)))


CORRECTION = Correction(SHIMMED, ("tap",), Tap.EASE, _plan, _learn, _learn_again)

PROCEDURE = Procedure(
    (
        Row(
            Tap.EASE,
            "EASE",
            lambda state: ease(watched(state), method_of(state.profile).watched),
            {
                "done": Tap.TAP,
                "skip": lambda state, _: left_out(state, SIDES),
                "finish": Outcome.FINISH,
                "disregard": back_to_sweep,
            },
            weighty=("skip", "finish"),
            loose=True,
            step=lambda state: Step("loosen", what="table lock", station=watched(state)),
            short=lambda state: slack(watched(state), method_of(state.profile).watched),
            left="correct",
            how="It must just move when tapped.",
        ),
        Row(
            Tap.TAP,
            "TAP",
            _tap_asked,
            {"done": Tap.TAP_LOCK, "disregard": Tap.EASE},
            on_reading=_tapped,
            expected=_expected,
            readings=True,
            loose=True,
            station=station_watched,
            last_seen=lambda state: state.taps.reading,
            coaching=_still_to_go,
            step=lambda state: state.plan.step if state.plan else None,
            shows=target_shown,
            short=_tap_briefly,
            left="correct",
            how="Light taps. Call the dial after each.",
        ),
        Row(
            Tap.TAP_LOCK,
            "LOCK",
            TAP_LOCK,
            {"locked": Outcome.MEASURE, "disregard": Tap.TAP},
            readings=True,
            loose=True,
            step=Step("tighten", what="table lock"),
            short=LOCKED,
            left="tighten",
            how="As tight as for drilling.",
        ),
    ),
)
