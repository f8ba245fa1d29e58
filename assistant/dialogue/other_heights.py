"""The same table at other heights and swings, after the job at the first one.

Square at one height is not square at another: column, arm and quill have their own errors.
A short sweep at another place is compared with the first and kept apart from as found and
as left; nothing is corrected by it.
"""

from dataclasses import replace

from assistant.dialogue.amounts import amount, spoken_step
from assistant.dialogue.asking import Out, go
from assistant.dialogue.form_sweep import form_command, offer_form
from assistant.dialogue.judging import axes_words, correct, judge, next_plan
from assistant.dialogue.messages import Result
from assistant.dialogue.phases import Phase
from assistant.dialogue.prompts import heights
from assistant.dialogue.reckoning import answer_of
from assistant.dialogue.state import State, Sweep
from assistant.dialogue.sweeping import take_back_sweep
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import as_expected
from assistant.metrology.positions import Place, Survey, survey


def not_finished(state: State) -> Out:
    """No to the end of the job: what is still to be corrected, else another height is offered.

    After another height nothing can be set before a new sweep where the job is done.
    """
    everything, answer = replace(state, axis_left_out=()), state.as_left
    if state.heights.moved:
        here = replace(state.heights, moved=False)
        return go(replace(state, heights=here), Phase.LOCK, heights.MOVED_SINCE)
    if answer is None or (answer.verdict != "within" and next_plan(everything, answer)):
        return correct(everything, "")
    return go(state, Phase.OTHER)


def beside(state: State, name: str, at: str) -> Out | None:
    """A command about other heights or the form; None where it is about neither."""
    here = state.heights
    match state.phase, name:
        case Phase.OTHER, "yes":
            return go(state, Phase.MOVE_TABLE)
        case Phase.OTHER, "no" if here.moved:
            return go(state, Phase.DECIDE)
        case Phase.OTHER, "no":
            offered = offer_form(state)
            return offered or correct(replace(state, axis_left_out=()), "")
        case Phase.OTHER, "disregard":
            last = state.sweeps[-1] if state.sweeps else None
            if last is not None and last.place and not last.refused:
                reopened = replace(state, heights=replace(here, under_way=True))
                return take_back_sweep(reopened, at)
            return go(state, Phase.DECIDE)
        case Phase.MOVE_TABLE, "locked":
            away = replace(here, under_way=True, moved=True)
            return go(replace(state, heights=away), Phase.ZERO)
        case Phase.ZERO, "disregard" if here.under_way:
            return go(replace(state, heights=replace(here, under_way=False)), Phase.MOVE_TABLE)
        case Phase.DECIDE, "disregard" if here.moved:
            return go(state, Phase.OTHER)
        case Phase.CLOSE, "disregard" if here.moved:
            return go(state, Phase.DECIDE)
        case _:
            return form_command(state, name)


def judge_here(state: State, said: str) -> Out:
    """What a sweep that is complete and fits comes to, wherever it was taken."""
    return (judge_place if state.heights.under_way else judge)(state, said)


def judge_place(state: State, said: str) -> Out:
    """A sweep at another place is complete: kept apart, compared, and another one offered."""
    answer = answer_of(state, state.readings, alone=True)
    sweep = state.as_sweep(answer)
    kept = replace(state.kept(sweep), heights=replace(state.heights, under_way=False))
    words = f"{said} {axes_words(answer, state.profile)} {_compared(kept, answer)}"
    return go(kept, Phase.OTHER, words.strip(), Result(sweep.number, answer))


def _compared(state: State, here: Answer) -> str:
    first, all_places = state.as_left, survey_of(state)
    if first is None or all_places is None:
        return ""
    if not differ(first, here):
        return heights.SAME_HERE
    return heights.differs(amount(all_places.best_tilt, spoken_step(state.profile)))


def differ(first: Answer, here: Answer) -> bool:
    """Whether two places differ by more than their uncertainties together."""
    pairs = (
        (here.front_minus_back, first.front_minus_back,
         here.budget.front_minus_back.u, first.budget.front_minus_back.u),
        (here.right_minus_left, first.right_minus_left,
         here.budget.right_minus_left.u, first.budget.right_minus_left.u),
    )  # fmt: skip
    return not all(as_expected(now, was, u, v) for now, was, u, v in pairs)


def places_of(state: State) -> tuple[Sweep, ...]:
    """The sweeps at other places that count, in order."""
    return tuple(sweep for sweep in state.sweeps if sweep.place and not sweep.refused)


def survey_of(state: State) -> Survey | None:
    """What the first place, as left, and all others say together; None without another."""
    first, others = state.as_left, places_of(state)
    if first is None or not others:
        return None
    named = (("first", first), *((sweep.place, sweep.answer) for sweep in others))
    return survey(
        [Place(name, each.front_minus_back, each.right_minus_left) for name, each in named]
    )
