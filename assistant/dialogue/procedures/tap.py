"""Side to side by tapping the table while the dial is watched."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import copysign, hypot, sqrt
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
from assistant.dialogue.facts import TapDone, Taps
from assistant.dialogue.forecast import PULLS
from assistant.dialogue.formatting import amount, rounded
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.methods import method_of, way_of
from assistant.dialogue.missed import (
    MAYBE,
    miss_of_lock,
    remembered,
    told_loose,
    weighed,
)
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.state import SIDES, Plan, State
from assistant.dialogue.sweep_answer import (
    count_unit,
    difference_here,
    moved_by_hand,
    reading_gain,
    repeat_here,
)
from assistant.dialogue.turn import Outcome, Turn, ask, done, go, tell
from assistant.dialogue.weighing import relock_variance
from assistant.dialogue.wording import (
    NOT_WHILE_LOOSE,
    ON_TARGET,
    call_again,
    reading,
    watch_this,
)
from assistant.metrology.answer import Answer
from assistant.metrology.causes import LOOKED_AT, did_nothing
from assistant.metrology.pull import LockPull, learn_pull
from assistant.metrology.scatter import SIDE_STATION_SHARE
from grammar.meaning import Reading
from grammar.say import Way, signed_words, value_words
from grammar.vocabulary import Station


class Tap(Phase):
    """The hands at the table's edge."""

    EASE = "ease"
    TAP = "tap"
    TAP_LOCK = "tap lock"


# -- words -------------------------------------------------------------------------------


HOLD_AND_SLACK: Final = "Hold the table. Slack the lock, keep some drag."
"""By itself after a done in place of the reading: nobody taps before this was said."""


@spoken
def ease(watch: Station, what: str = "Dial") -> str:
    """Before tapping; ``what`` is read there."""
    return f"{what} at the {watch}. {HOLD_AND_SLACK} Done?"


EASE_THERE: Final = f"{HOLD_AND_SLACK} Done?"  # the same, where the dial stands there already


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
TAP_DID_NOTHING: Final = "It hardly moved. Is it loose? Is the pin out?"  # a tap did not show
TAP_WRONG_WAY: Final = "It went the other way. Watch the dial while locking."
"""After a tap the table leans more than before."""

SEIZED_SIDES: Final = "Side to side does not move. Seized? Leave it."
"""Taps did nothing twice running."""

LEAST_SHARE = 0.25
"""Part of what was asked that a table at least follows, if it is not seized (judgement)."""

TURNS, TURNS_LEARNT = 0.25, 0.1
"""Relative standard deviation of how far a table turns for what the dial does, before a tap showed
where it pivots and after one (judgement)."""

STILL_ASKED, STILL_LEFT = 3, 6
"""Readings running that come hardly nearer the aim, until it is asked whether the table is free,
and until the axis is left as it is (judgement)."""

SUDDEN: Final = 4.0
"""Standard deviations of what a lock does, from which the dial may as well have slipped: a table
that was tapped after it would be out by twice as much (judgement)."""

TIMES = 2
"""Taps running that do nothing before the axis is left as it is."""


@spoken
def slack(watch: Station, what: str = "Dial") -> str:
    """Before tapping, in few words."""
    return f"{what} {watch}, table held, lock slack?"


SLACK_THERE: Final = "Table held, lock slack?"  # where the dial stands there already


@spoken
def tap_to(watch: Station, down: bool, target: Decimal, way: Way = "signed") -> str:
    """Where to tap to, in few words."""
    return f"{watch.capitalize()} {'down' if down else 'up'} to {value_words(target, way)}."


LOCKED: Final = "Locked?"  # after tapping, in few words


@spoken
def lock_and_call(watch: Station) -> str:
    """After tapping: what locking does is seen at the dial, where it is watched anyway."""
    return f"Lock it. {call_again(watch)}"


@spoken
def locked_and(watch: Station) -> str:
    """The same in few words."""
    return f"Locked? {call_again(watch)}"


@spoken
def locking_moved(value: Decimal) -> str:
    """Locking moved it too far to be left so."""
    return f"Locking moved it {signed_words(value)}. Once more."


@spoken
def tap_past(value: str, short: bool) -> str:
    """The target is beyond where it should stand, or short of it, by what locking does."""
    if short:
        return f"Short by {value}: locking does the rest."
    return f"Past by {value}: locking takes it back."


@spoken
def locking_jumped(value: Decimal) -> str:
    """Locking moved it further than locks do: table or dial, which a sweep tells."""
    return f"Locking moved it {signed_words(value)}. A sweep will tell."


LOCK_GIVES: Final = "Locking moves it this way and that. Is the clamp loose?"
"""What locking does is more than any sound clamp does."""

NOTHING_TO_TAP: Final = "Nothing to tap."  # the dial stands where it should come to

MOST_TRIES: Final = 3
"""Times that a tap is locked before the sweep has to say what came of it."""

# -- the hands ---------------------------------------------------------------------------


def _ease_asked(state: State) -> str:
    watch = watched(state)
    return watching.asked(state, watch, ease(watch, method_of(state.profile).watched), EASE_THERE)


def _ease_briefly(state: State) -> str:
    watch = watched(state)
    words = slack(watch, method_of(state.profile).watched)
    return watching.asked(state, watch, words, SLACK_THERE)


def _read_before(state: State, called: Reading, _: Heard) -> Turn:
    """The dial before anything is loosened: from there the table is tapped."""
    if state.taps.start is None or state.plan is None:
        return ask(state, NOT_WHILE_LOOSE)
    return watching.taken(state, watched(state), called, _begun_from)


def _begun_from(state: State, told: str) -> Turn:
    """The target from the reading just taken, or that there is nothing to tap."""
    value, plan = state.reread.value, state.plan
    if value is None or plan is None or state.taps.goal is None or state.taps.start is None:
        return ask(state, told)
    goal = state.taps.goal + value - state.taps.start
    taps = replace(state.taps, start=value, goal=goal)
    step = step_to(state, goal, value)
    if step is None:
        return left_out(replace(state, taps=taps), SIDES, f"{told} {NOTHING_TO_TAP}")
    return ask(replace(state, taps=taps, plan=replace(plan, step=step)), told, _slacken(state))


def _eased(state: State, _: Heard) -> Turn:
    """It is loose; where the reading was still to come, only now told to be loosened."""
    if not watching.due(replace(state, loosened=False)):
        return go(state, Tap.TAP)
    return go(state, Tap.TAP, HOLD_AND_SLACK, _slacken(state))


def _slacken(state: State) -> Step:
    return Step("loosen", what="table lock", station=watched(state))


def step_to(state: State, goal: Decimal, stands: Decimal) -> Step | None:
    """The tap that brings the dial, locked, from where it stands to its goal.

    Beyond it by what locking takes back, as far as the dial shows it; None where it shows that
    now.
    """
    target = _beyond(state, goal)
    if target == stands:
        return None
    change = rounded((target - stands) * reading_gain(state.profile), state.profile.scale.step)
    return Step("tap", station=watched(state), change=change, dial_target=target)


def _beyond(state: State, goal: Decimal) -> Decimal:
    """What the dial is to show before locking, to come to its goal; as far as it reaches."""
    scale = state.profile.scale
    reach = Decimal(scale.reach)
    target = rounded(goal - _pull(state.taps) / reading_gain(state.profile), scale.step)
    return max(min(target, reach), -reach)


def _pull(taps: Taps) -> Decimal:
    """What locking does to the height at the watched station, to be reckoned with counts."""
    return Decimal(str(round(taps.pull, 6)))


def _by_dial(state: State) -> bool:
    """Whether what locking does can be seen at a dial: one that does not wander by as much."""
    dial = state.profile.method == "indicator" and state.taps.goal is not None
    return dial and watching.wanders(state) <= _allowed(state)


def _lock_asked(state: State) -> str:
    return lock_and_call(watched(state)) if _by_dial(state) else TAP_LOCK


def _lock_briefly(state: State) -> str:
    return locked_and(watched(state)) if _by_dial(state) else LOCKED


def _locked(state: State, called: Reading, _: Heard) -> Turn:
    """What locking did: allowed for from now on, and tapped again at once where it is too much."""
    plan, goal = state.plan, state.taps.goal
    if plan is None or goal is None or not _by_dial(state):
        return ask(state, NOT_WHILE_LOOSE)
    watch, value = watched(state), called.value
    if called.station not in (None, watch):
        return ask(state, watch_this(watch))
    told = reading(watch, value, way_of(state.profile))
    locking = _locking(replace(state, pending=None), value)
    counted = locking.state
    if locking.gives:
        given_up = replace(told_loose(counted), plan=replace(plan, given_up=True))
        return go(given_up, Lock.LOCK, f"{told} {LOCK_GIVES}")
    if locking.sudden and state.taps.reading is not None:
        word = locking_jumped(value - state.taps.reading)
        return done(_half_expected(counted, plan, goal), Outcome.MEASURE, f"{told} {word}")
    taps = counted.taps
    small = abs(value - goal) <= _allowed(state) + watching.wanders(state)
    step = None if small else step_to(counted, goal, value)
    left = taps.tries >= MOST_TRIES or taps.reading is None or SIDES in state.axis_left_out
    if step is None or left or taps.reading is None:
        return done(_half_expected(counted, plan, goal), Outcome.MEASURE, told)
    word = locking_moved(value - taps.reading)
    again = replace(counted, plan=replace(plan, step=step), taps=replace(taps, reading=None))
    return go(again, Tap.EASE, f"{told} {word}")


def _half_expected(state: State, plan: Plan, goal: Decimal) -> State:
    """A lock nods the table as well as it turns it: of what the dial missed half is expected."""
    locked = goal if state.taps.locked is None else state.taps.locked
    missed = float((locked - goal) * reading_gain(state.profile))
    return replace(state, plan=replace(plan, expected_rl=plan.expected_rl + missed))


@dataclass(frozen=True, slots=True)
class _Locking:
    """The state with what locking was seen to do.

    ``gives``: no sound clamp does that. ``sudden``: it is so much that the dial may have slipped,
    and nothing is learnt of it.
    """

    state: State
    gives: bool = False
    sudden: bool = False


def _locking(state: State, value: Decimal) -> _Locking:
    """What locking did, by what the dial shows after it."""
    taps = state.taps
    counted = replace(state, taps=replace(taps, locked=value, tries=taps.tries + 1))
    if taps.reading is None:
        return _Locking(counted)
    jump = float((value - taps.reading) * reading_gain(state.profile))
    known, pulls = pull_of(state, taps.pulls), (*taps.pulls, jump)
    u = hypot(known.uncertainty, float(watching.wanders(state)) / sqrt(3))
    miss = miss_of_lock(state, jump, known.value, u)
    gives = weighed(state, miss).loose >= MAYBE
    if abs(jump - known.value) > SUDDEN * hypot(known.uncertainty, _lock_scatter(state)):
        unlearnt = replace(counted, taps=replace(counted.taps, start=None))
        return _Locking(remembered(unlearnt, miss), gives, sudden=True)
    pull = pull_of(state, pulls).value
    counted = replace(counted, taps=replace(counted.taps, pulls=pulls, pull=pull))
    return _Locking(remembered(counted, miss), gives)


def pull_of(state: State, pulls: Sequence[float]) -> LockPull:
    """What locking does to the watched station, as it was seen to."""
    usual = float(PULLS.to(count_unit(state.profile))) / 2
    return learn_pull(pulls, usual, _lock_scatter(state))


def _lock_scatter(state: State) -> float:
    """Standard deviation of what one locking does to the dial at the watched station."""
    return hypot(
        sqrt(2) * repeat_here(state),
        sqrt(2 * relock_variance(state)) * SIDE_STATION_SHARE,
        float(watching.wanders(state)) / sqrt(3),
    )


def _allowed(state: State) -> Decimal:
    """How far from its goal the dial may be left: half of what proves the tolerance."""
    answer = state.as_left
    enough = (answer.judgement.accept_up_to or 0.0) if answer is not None else 0.0
    return max(2 * state.profile.scale.step, Decimal(str(round(enough / 4, 6))))


def _tap_asked(state: State) -> str:
    step = state.plan.step if state.plan else None
    if step is not None and state.profile.method == "touch":
        return tap_a_little(watched(state))
    if step is None or step.change is None or step.dial_target is None:
        return TAP_LOCK
    way = way_of(state.profile)
    told = tap(watched(state), step.change < 0, step.dial_target, way)
    pull = rounded(_pull(state.taps), state.profile.scale.step)
    if not state.taps.pulls or not pull:
        return told
    return f"{told} {tap_past(amount(pull, state.profile.scale.step), pull * step.change > 0)}"


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
    gain, step = reading_gain(state.profile), state.profile.scale.step
    reach = Decimal(state.profile.scale.reach)
    goal = Decimal(str(round(answer.tap.dial_target, 6)))
    now = goal - Decimal(str(round(answer.tap.change, 6))) / gain
    # Locking pulls the table off again by about as much each time: it is tapped beyond by that.
    target = _beyond(state, goal)
    change = rounded((target - now) * gain, step)
    if target == rounded(now, step) or not change:
        return ()
    told = Step("tap", station=answer.tap.watch, change=change, dial_target=target)
    sides = answer.right_minus_left
    # What was rounded off is left, and what the dial does not reach.
    moved = float((target - now) * gain) + state.taps.pull
    turn = -sides / answer.tap.change
    if abs(goal) >= reach and answer.coupling is not None:
        turn = answer.coupling.matrix[1][1]
    nodded = answer.coupling.tap_on_front * float(change) if answer.coupling else 0.0
    fronts = answer.front_minus_back + nodded
    return (Plan("tap", told, fronts, sides + turn * moved, state.shims.total),)


def _learn(state: State, plan: Plan, before: Answer, answer: Answer) -> tuple[State, str]:
    """A tap shows where the table pivots: how far both sides went for what the dial did."""
    if SIDES in state.axis_left_out:
        return state, ""
    was, now = before.right_minus_left, answer.right_minus_left
    asked, followed = plan.expected_rl - was, now - was
    u_change = sqrt(2) * difference_here(state)
    reached = _on_target(state, plan)
    unseen = state.taps.locked is None
    short = not reached and unseen and followed / asked < LEAST_SHARE
    if short and abs(asked) > 3 * u_change and _did_not_show(state, asked, followed):
        return _did_nothing(state, followed / asked)
    words = lesson_words(plan.expected_rl, now, moved_by_hand(state, asked), state.profile)
    taps = replace(state.taps, did_nothing=0)
    if reached and unseen and was:
        # What the dial showed before locking was as asked: what is missing now, locking took.
        half = before.tap.change / -was
        pull = taps.pull + _share_of_pull(state, asked, u_change) * (now - plan.expected_rl) * half
        taps = replace(taps, pull=max(min(pull, abs(was)), -abs(was)))
    return replace(state, taps=_with_this(taps, state, before, answer)), words


def _did_not_show(state: State, asked: float, followed: float) -> bool:
    """Whether it most likely did nothing, however locking may have pulled it back."""
    u = hypot(sqrt(2) * difference_here(state), float(PULLS.to(count_unit(state.profile))))
    return did_nothing(followed * copysign(1, asked), abs(asked), TURNS, u) >= LOOKED_AT


def _share_of_pull(state: State, asked: float, u_change: float) -> float:
    """The part of a miss that locking most likely made: the rest is the pivot's, and noise.

    By their variances, as in any least squares estimate of one term among several.
    """
    pull = float(PULLS.to(count_unit(state.profile))) ** 2
    turned = (TURNS_LEARNT if state.taps.done else TURNS) * asked
    return pull / (pull + turned**2 + u_change**2)


def _with_this(taps: Taps, state: State, before: Answer, answer: Answer) -> Taps:
    """What taps did, with this one, if the dial was read: net of what locking took."""
    start, last, gain = taps.start, state.taps.reading, reading_gain(state.profile)
    at_end = taps.locked
    if at_end is None and last is not None:
        at_end = last + _pull(taps) / gain
    if start is None or at_end is None or at_end == start:
        return taps
    change = (at_end - start) * gain
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


def _prepared(state: State) -> State:
    """A tap begun: what the dial shows now as far as is known, and is to show locked."""
    step, taps = state.plan.step if state.plan else None, state.taps.at_rest
    if step is None or step.dial_target is None or step.change is None:
        return replace(state, taps=taps)
    gain, pull = reading_gain(state.profile), _pull(taps)
    start = step.dial_target - step.change / gain
    return replace(state, taps=replace(taps, start=start, goal=step.dial_target + pull / gain))


CORRECTION = Correction(SHIMMED, ("tap",), Tap.EASE, _plan, _learn, _learn_again, prepare=_prepared)

PROCEDURE = Procedure(
    (
        Row(
            Tap.EASE,
            lambda state: watching.awaits(state, "EASE"),
            _ease_asked,
            {
                "done": _eased,
                "skip": lambda state, _: left_out(state, SIDES),
                "finish": Outcome.FINISH,
                "disregard": back_to_sweep,
            },
            weighty=("skip", "finish"),
            on_reading=_read_before,
            expected=lambda state, _: state.taps.start,
            readings=True,
            loose=True,
            station=lambda state: watched(state) if watching.due(state) else None,
            step=lambda state: None if watching.due(state) else _slacken(state),
            short=_ease_briefly,
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
            _lock_asked,
            {"locked": Outcome.MEASURE, "disregard": Tap.TAP},
            on_reading=_locked,
            expected=_expected,
            readings=True,
            loose=True,
            station=lambda state: watched(state) if _by_dial(state) else None,
            last_seen=lambda state: state.taps.reading,
            step=Step("tighten", what="table lock"),
            short=_lock_briefly,
            left="tighten",
            how="As tight as for drilling.",
        ),
    ),
)
