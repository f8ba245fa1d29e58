"""The procedures in the order of a job, and what each outcome leads to."""

from dataclasses import dataclass, field, replace
from typing import Protocol

from assistant.dialogue import missed, planner
from assistant.dialogue.answer_words import axes_words, uncertainty_words
from assistant.dialogue.messages import Effect, Result
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures import (
    close,
    form,
    gap,
    head,
    heights,
    introduction,
    last_time,
    lock,
    noise,
    packing,
    pin,
    repeat,
    retighten,
    safety,
    setup,
    shim,
    sides,
    sign_test,
    spindle,
    square,
    sweep,
    tap,
    touch,
)
from assistant.dialogue.returns import LOOSE_SOMEWHERE
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.state import State
from assistant.dialogue.sweep_answer import answer_of, counted_with
from assistant.dialogue.turn import Outcome, Turn, go

PROCEDURES: tuple[Procedure, ...] = (
    introduction.PROCEDURE,
    safety.IN_ONE,
    safety.PROCEDURE,
    last_time.PROCEDURE,
    setup.PROCEDURE,
    sign_test.PROCEDURE,
    spindle.PROCEDURE,
    lock.PROCEDURE,
    noise.PROCEDURE,
    sweep.PROCEDURE,
    gap.PROCEDURE,
    touch.PROCEDURE,
    square.PROCEDURE,
    sides.PROCEDURE,
    repeat.PROCEDURE,
    pin.PROCEDURE,
    shim.PROCEDURE,
    tap.PROCEDURE,
    head.PROCEDURE,
    packing.PROCEDURE,
    retighten.PROCEDURE,
    heights.PROCEDURE,
    form.PROCEDURE,
    close.PROCEDURE,
)
"""A job goes through those that are due, in this order, until something is measured; what
comes after depends on the outcome."""


@dataclass(frozen=True)
class Job:
    """Procedures in order, and the one flat table of their rows."""

    procedures: tuple[Procedure, ...]
    table: dict[Phase, Row] = field(init=False)

    def __post_init__(self) -> None:
        rows = [row for each in self.procedures for row in each.rows]
        object.__setattr__(self, "table", {row.phase: row for row in rows})
        if len(self.table) != len(rows):
            raise ValueError("two rows are of the same phase")

    def due_after(self, phase: Phase | None, state: State) -> Phase:
        """Where the job goes on when the procedure of a phase is done; None: where it begins."""
        later = list(self.procedures)
        if phase is not None:
            within = [phase in each.phases for each in later]
            later = later[within.index(True) + 1 :]
        return next(each.begins for each in later if each.due(state))


JOB = Job(PROCEDURES)


def row_of(phase: Phase) -> Row:
    """The row of a phase."""
    return JOB.table[phase]


def begins(state: State) -> Turn:
    """The first question of a job."""
    return go(state, JOB.due_after(None, state), last_time.told(state))


MOST_TIGHTENED = 2
"""Sweeps of a job that are made again because something gives."""

# -- outcomes ----------------------------------------------------------------------------


def _done(state: State, said: str, *effects: Effect) -> Turn:
    return go(state, JOB.due_after(state.phase, state), said, *effects)


def _measure(state: State, said: str, *effects: Effect) -> Turn:
    return go(replace(state, loosened=False), JOB.due_after(lock.Lock.LOCK, state), said, *effects)


def _noise(state: State, said: str, *effects: Effect) -> Turn:
    return go(noise.begun(state), noise.Settling.SURFACE, said, *effects)


def _swept(state: State, said: str, *_: Effect) -> Turn:
    """What a sweep that is complete and stands comes to, wherever it was taken."""
    return heights.judge_place(state, said) if state.heights.under_way else _judge(state, said)


def _judge(state: State, said: str) -> Turn:
    """Keep the sweep with its answer, say it, and go on."""
    answer = answer_of(state, state.readings)
    alone = answer_of(state, state.readings, alone=True) if counted_with(state) else answer
    why = missed.why_missed(state, alone)
    if why.ask:
        return sides.asked(state, why.ask, said)
    if why.again:
        aside = sweep.set_aside(state, missed.EXCHANGED)
        return go(aside, lock.Lock.LOCK, f"{said} {why.again}".strip())
    learned, lesson = (state, why.before) if why.before else planner.learnt(state, answer)
    if why.loose:
        if state.causes.loose < MOST_TIGHTENED:
            return _loose(state, said)
        learned, lesson = state, LOOSE_SOMEWHERE
    if learned is not state:
        # What this sweep taught of shim or pivot changes what it asks for next.
        answer = answer_of(learned, state.readings)
    learned = missed.told_before(learned) if why.before else missed.remembered(learned, why.miss)
    made = state.as_sweep(answer)
    again = repeat.moved_on(state.again, state.plan is not None)
    kept = replace(
        learned.kept(made),
        plan=None,
        again=again,
        taps=learned.taps.at_rest,
    )
    several = len(kept.same_table) > 1
    first, brief = state.as_found is None, state.short
    unsure = uncertainty_words(answer, state.profile, briefly=brief) if first or several else ""
    axes = axes_words(answer, state.profile, briefly=brief)
    words = " ".join(part for part in (said, lesson, axes, unsure) if part)
    return planner.advise(kept, words, Result(made.number, answer))


def _loose(state: State, said: str) -> Turn:
    """Something gives: it is tightened, and swept again before anything is built on it."""
    told = f"{said} {LOOSE_SOMEWHERE}".strip()
    plan = state.plan
    given_up = missed.told_loose(
        state if plan is None else replace(state, plan=replace(plan, given_up=True))
    )
    return go(sweep.set_aside(given_up, missed.LOOSE), lock.Lock.LOCK, told)


def _known_better(state: State, said: str, *effects: Effect) -> Turn:
    """The last sweep again, by all that is known now: its noise, its corners."""
    last = state.sweeps[-1]
    then = replace(last.before.restored(state), sweeps=state.sweeps[:-1])
    learnt = replace(then, shims=state.shims, taps=state.taps, packing=state.packing)
    answer = answer_of(learnt, last.readings, corners=last.corners)
    known = replace(state, sweeps=(*state.sweeps[:-1], replace(last, answer=answer)))
    doubt = missed.in_doubt(known)
    if doubt is not None:
        return sides.asked(known, doubt, said, last.corners[-1] if last.corners else None)
    words = (said, axes_words(answer, state.profile), uncertainty_words(answer, state.profile))
    told = " ".join(part for part in words if part)
    return planner.advise(known, told, *effects, Result(last.number, answer))


def _not_finished(state: State, *_: object) -> Turn:
    """No to the end of the job: what is still to be corrected, else another height is offered.

    After another height nothing can be set before a new sweep where the job is done.
    """
    everything, answer = replace(state, axis_left_out=()), state.as_left
    if state.profile.method == "touch":
        return planner.advise(everything, "")
    if state.heights.moved:
        here = replace(state.heights, moved=False)
        return go(replace(state, heights=here), lock.Lock.LOCK, heights.MOVED_SINCE)
    if answer is None or (answer.verdict != "within" and planner.next_plan(everything, answer)):
        return planner.correct(everything, "")
    return go(state, heights.Heights.OTHER)


def _no_other_height(state: State, *_: object) -> Turn:
    return form.offer_form(state) or planner.correct(replace(state, axis_left_out=()), "")


class Follows(Protocol):
    """Decides what follows an outcome, with what is to be said and done before it."""

    def __call__(self, state: State, said: str, /, *effects: Effect) -> Turn: ...


FOLLOWS: dict[Outcome, Phase | Follows] = {
    Outcome.DONE: _done,
    Outcome.BEFORE_SET_UP: lambda state, *_: last_time.back_into(state),
    Outcome.SET_UP_CHANGED: spindle.Spindle.SPINDLE,
    Outcome.SPINDLE_DONE: setup.SetUp.SETUP,
    Outcome.NOISE_WANTED: _noise,
    Outcome.MEASURE: _measure,
    Outcome.SWEPT: _swept,
    Outcome.KNOWN_BETTER: _known_better,
    Outcome.NO_FIT: repeat.Repeat.AFRESH,
    Outcome.ROD_TOUCHES: lambda state, *_: gap.touches(state),
    Outcome.ROUND_BACK: lambda state, *_: touch.round_back(state),
    Outcome.ADVISE: planner.advise,
    Outcome.CORRECT: planner.correct,
    Outcome.SHIM_IN_DOUBT: lambda state, *_: go(state, shim.CORRECTION.begun(state)),
    Outcome.PIN_OUT: planner.correct_now,
    Outcome.PLACE_BACK: lambda state, *_: heights.place_back(state),
    Outcome.NOT_FINISHED: _not_finished,
    Outcome.NO_OTHER_HEIGHT: _no_other_height,
    Outcome.ANOTHER_HEIGHT: heights.Heights.OTHER,
    Outcome.FINISH: close.Close.CLOSE,
}
"""What each outcome leads to: a phase, or what is to be decided first."""


def decided(turn: Turn) -> Turn:
    """The turn with a phase, or none, in place of an outcome."""
    while turn.outcome is not None:
        follows = FOLLOWS[turn.outcome]
        if isinstance(follows, Phase):
            return replace(turn, outcome=None, enter=follows)
        turn = follows(turn.state, turn.said, *turn.effects)
    return turn
