"""Setting both axes by moving: the head's nod and tilt, or a free table tapped both ways.

Belongs here: which axis, how far the dial must go at which station, and what a move taught.
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
from math import hypot

from assistant.dialogue.amounts import rounded
from assistant.dialogue.findings import MoveDone, Moving
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Do, Step
from assistant.dialogue.reckoning import count_unit, noise_of
from assistant.dialogue.state import FRONT_BACK, SIDES, Plan, State, Taken
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import stands_out
from assistant.metrology.response import HEAD_RELATIVE, Response, learn_turn
from assistant.metrology.scatter import difference_sd
from grammar.vocabulary import Station

NOD, TILT = "nod", "tilt"
"""Kinds of plan: front to back and side to side, of a head or a free table."""

MOVES = (NOD, TILT)


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


def next_move(state: State, answer: Answer) -> Plan | None:
    """The axis to move next: the one that alone ends the job, else front to back first.

    Front to back goes first because the nod bolts carry the head: loosening them disturbs
    the tilt, too (common practice, no source).
    """
    nod, tilt = _move(state, answer, NOD), _move(state, answer, TILT)
    if nod is None or tilt is None:
        return nod or tilt
    enough = answer.judgement.accept_up_to or 0.0
    left_by_nod, left_by_tilt = (hypot(p.expected_fb, p.expected_rl) for p in (nod, tilt))
    return tilt if left_by_tilt <= enough < left_by_nod else nod


def _move(state: State, answer: Answer, kind: str) -> Plan | None:
    front = kind == NOD
    axis = FRONT_BACK if front else SIDES
    watch: Station = "front" if front else "right"
    off = answer.front_minus_back if front else answer.right_minus_left
    budget = answer.budget.front_minus_back if front else answer.budget.right_minus_left
    now = dial_at(state, watch)
    if axis in state.axis_left_out or not stands_out(off, budget) or now is None:
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
    fb, rl = answer.front_minus_back, answer.right_minus_left
    return Plan(kind, told, left if front else fb, rl if front else left, state.shim)


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


def dial_at(state: State, watch: Station) -> Decimal | None:
    """What the dial showed there in the last sweep, its zero as it still stands."""
    usable = state.usable_sweeps
    readings: tuple[Taken, ...] = usable[-1].readings if usable else ()
    return next((taken.value for taken in readings if taken.station == watch), None)


def begin(state: State) -> Moving:
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


def taught(state: State, plan: Plan, before: Answer, answer: Answer) -> Moving:
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
