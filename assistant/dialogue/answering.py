"""What a command does in each phase, and what an answer does to an open question."""

from dataclasses import replace
from typing import assert_never

from assistant.dialogue import prompts
from assistant.dialogue.asking import Out, ask, go, offer_now, stopped_words, tell
from assistant.dialogue.called_numbers import diameter, reading, take_called
from assistant.dialogue.checks import SPINDLE_CHECKS
from assistant.dialogue.correcting import shim_called, shim_done
from assistant.dialogue.gap_sweep import no_go_called, rod_set, still_drags
from assistant.dialogue.head_moves import head_command
from assistant.dialogue.helping import help_words, key_words, status
from assistant.dialogue.introducing import answered
from assistant.dialogue.judging import (
    advise,
    correct_now,
    tilt_words,
)
from assistant.dialogue.messages import Closed, Effect, Heard, NewJob, Say
from assistant.dialogue.other_heights import beside, judge_here, not_finished
from assistant.dialogue.packing import packing_back, packing_called, packing_command
from assistant.dialogue.packing_plan import axis_packed
from assistant.dialogue.phases import (
    EVERYWHERE,
    INTRODUCTION,
    TABLE,
    Phase,
    is_weighty,
)
from assistant.dialogue.prompts import gap, machines
from assistant.dialogue.repeating import afresh, begin_again, declined, refitted, to_the_dial
from assistant.dialogue.settling import (
    settle_back,
    settle_begin,
    settle_done,
    settle_skip,
)
from assistant.dialogue.sign_test import sign_skipped, sign_told
from assistant.dialogue.spindle_checks import check_back, check_command
from assistant.dialogue.state import (
    FRONT_BACK,
    SIDES,
    AskCommand,
    AskGoOn,
    AskNoGo,
    AskReading,
    AskShim,
    AskSign,
    State,
)
from assistant.dialogue.sweeping import (
    carry_on,
    correct_last,
    judge_not_flat,
    leave_as_is,
    take_back,
    take_back_sweep,
    zeroed,
)
from assistant.dialogue.touching import (
    closing_words,
    plan_by_touch,
    round_back,
    side_called,
    touch_command,
)
from assistant.dialogue.work_words import lean_words
from assistant.metrology.lengths import Length
from grammar.meaning import Command, Reading, Shim, Side, Sign, Size

Answerable = Command | Reading | Sign | Side | Shim | Size


def answer(state: State, meaning: Answerable, heard: Heard) -> Out:
    """What a clear utterance does: the open question first, then the phase."""
    if state.pending is not None:
        return _answer_pending(state, meaning, heard)
    if state.phase in INTRODUCTION and not isinstance(meaning, Command):
        return answered(state, meaning) or refuse(state, heard.words)
    match meaning:
        case Command(name=name):
            return command(state, name, heard)
        case Reading():
            return reading(state, meaning, heard)
        case Shim():
            if meaning.doubtful_unit and state.phase in (Phase.SHIM, Phase.PACK):
                # The hundredths of the dial, or the millimetres that are marked on a leaf.
                sure = replace(meaning, doubtful_unit=False)
                in_mm = replace(sure, total=100 * sure.total)
                return ask(replace(state, pending=AskShim((sure, in_mm))))
            if state.phase is Phase.SHIM:
                return shim_called(state, meaning)
            if state.phase is Phase.PACK:
                return packing_called(state, meaning)
            return refuse(state, heard.words)
        case Size():
            if state.phase is Phase.DIAMETER:
                return diameter(state, Length.of(meaning.value, meaning.unit))
            return refuse(state, heard.words)
        case Sign() if state.phase is Phase.SIGN:
            return sign_told(state, meaning) or refuse(state, heard.words)
        case Side(station=station):
            return side_called(state, station) or refuse(state, heard.words)
        case Sign():
            return refuse(state, heard.words)
        case _:
            assert_never(meaning)


def refuse(state: State, words: str) -> Out:
    """Understood, but it does nothing here: say so, and put the question again."""
    return ask(state, prompts.not_now(words))


# -- open questions ----------------------------------------------------------------------


def _answer_pending(state: State, meaning: Answerable, heard: Heard) -> Out:
    pending = state.pending
    name = meaning.name if isinstance(meaning, Command) else ""
    plain = replace(state, pending=None)
    if name in EVERYWHERE and not (name == "stop" and _asks_stop(state)):
        return command(state, name, heard)
    match pending:
        case AskSign(reading=unsigned):
            if name in ("yes", "no") and state.profile.method == "square":
                meaning = Sign("plus" if name == "yes" else "minus")
            if isinstance(meaning, Sign):
                value = -unsigned.value if meaning.name == "minus" else unsigned.value
                signed = replace(unsigned, value=value, signed=True)
                told = replace(
                    heard,
                    words=pending.words,
                    confidence=min(pending.confidence, heard.confidence),
                    alternatives=pending.alternatives,
                )
                return reading(plain, signed, told)
        case AskReading(candidates=candidates):
            if name == "yes":
                return take_called(plain, replace(candidates[0], doubtful_unit=False), heard)
            if name == "no":
                rest = candidates[1:]
                if rest:
                    return ask(replace(state, pending=AskReading(rest)))
                return tell(plain, prompts.NO_MATCH)
        case AskShim(candidates=shims):
            if isinstance(meaning, Shim) or name == "yes":
                return answer(plain, meaning if isinstance(meaning, Shim) else shims[0], heard)
            if name == "no" and shims[1:]:
                return ask(replace(state, pending=AskShim(shims[1:])))
            if name == "no":
                return ask(plain)
        case AskNoGo(station=station):
            go_taken = state.called(station)
            if name in ("done", "skip") or go_taken is None:
                return carry_on(plain, "", judge_here)
            here = isinstance(meaning, Reading) and meaning.station in (None, station)
            if isinstance(meaning, Reading) and here and not meaning.correction:
                return no_go_called(state, go_taken, meaning, judge_here)
        case AskCommand(command=asked):
            if name == "yes":
                return command(plain, asked.name, heard, sure=True)
            if name == "no":
                return ask(plain)
            if name == asked.name:
                # "Done?" is answered by "done"; what ends something wants its yes.
                return (
                    ask(state)
                    if is_weighty(state.phase, name)
                    else command(plain, name, heard, sure=True)
                )
        case AskGoOn(unplugged=unplugged):
            if name == "no":
                if unplugged:
                    return ask(state, prompts.UNPLUG_FIRST)
                return replace(plain, stopped=True), (NewJob(),)
            if name == "yes":
                return (
                    go(plain, plain.phase)
                    if unplugged
                    else ask(replace(state, pending=AskGoOn(True)))
                )
            return ask(state)
        case None:
            return answer(state, meaning, heard)
    if name == "disregard":
        return ask(plain)
    # Tenths that the dial does not show are not listened for, but whoever types them means them.
    takes = replace(offer_now(plain), any_tenths=True)
    if isinstance(meaning, Reading) and takes.allows(meaning):
        return reading(plain, _instead_of_asked(state, meaning), heard)
    return refuse(state, heard.words)


def _instead_of_asked(state: State, called: Reading) -> Reading:
    """What is asked about was not taken yet: a correction of it replaces no reading."""
    read = [taken.station for taken in state.readings if not taken.zeroed]
    return called if called.station in read else replace(called, correction=False)


def _asks_stop(state: State) -> bool:
    return isinstance(state.pending, AskCommand) and state.pending.command.name == "stop"


# -- commands ----------------------------------------------------------------------------


def command(state: State, name: str, heard: Heard, *, sure: bool = False) -> Out:
    """A command in the current phase."""
    if name not in offer_now(replace(state, pending=None)).commands and not sure:
        return refuse(state, heard.words)
    if is_weighty(state.phase, name) and not sure:
        return ask(replace(state, pending=AskCommand(Command(name))))
    match name:
        case "say again":
            return tell(state, state.last_said)
        case "status":
            return ask(state, status(state))
        case "help":
            by_keys = heard.source == "keypad" or (heard.source == "voice" and state.too_loud)
            return tell(state, key_words(state) if by_keys else help_words(state))
        case "stand by":
            resting = replace(state, standing_by=True)
            return tell(resting, prompts.STANDING_BY)
        case "stop":
            stopped = replace(state, stopped=True)
            return stopped, (Say(stopped_words(stopped)), Closed(finished=False))
        case "finish":
            return go(state, Phase.CLOSE)
        case "disregard":
            return _disregard(state, heard)
        case _:
            return _phase_command(state, name, heard)


def _phase_command(state: State, name: str, heard: Heard) -> Out:
    if state.phase in INTRODUCTION:
        return answered(state, Command(name)) or refuse(state, heard.words)
    if state.phase in SPINDLE_CHECKS:
        return check_command(state, name) or refuse(state, heard.words)
    match state.phase, name:
        case Phase.UNPLUGGED, "yes":
            return go(state, Phase.KEY_OUT)
        case Phase.UNPLUGGED, "no":
            return ask(state, prompts.UNPLUG_FIRST)
        case Phase.KEY_OUT, "yes":
            return go(state, Phase.TABLE_HELD)
        case Phase.KEY_OUT, "no":
            return ask(state, prompts.KEY_OUT_FIRST)
        case Phase.TABLE_HELD, "yes":
            return go(state, Phase.SETUP, prompts.BY_HAND_ONLY)
        case Phase.TABLE_HELD, "no":
            head = state.profile.kind == "head"
            return ask(state, machines.HOLD_HEAD_FIRST if head else prompts.HOLD_TABLE_FIRST)
        case Phase.SETUP, "yes":
            return go(state, Phase.LOCK)
        case Phase.SETUP, "no":
            return go(state, Phase.DIAMETER)
        case Phase.DIAMETER, "skip":
            return go(state, Phase.TOLERANCE)
        case Phase.TOLERANCE, "skip":
            return go(state, Phase.SPINDLE)
        case ((Phase.LOCK | Phase.LOCK_AGAIN | Phase.TIGHTEN | Phase.TAP_LOCK), "locked"):
            return go(state, Phase.ZERO)
        case Phase.ZERO, "zeroed":
            return zeroed(state, heard)
        case ((Phase.LOCK | Phase.ZERO | Phase.ROD), "settle"):
            return settle_begin(state)
        case ((Phase.SURFACE | Phase.RELOCK), "done"):
            return settle_done(state)
        case ((Phase.SURFACE | Phase.RELOCK | Phase.SNUG | Phase.HARD), "skip"):
            return settle_skip(state)
        case Phase.SIGN, "skip":
            return sign_skipped(state)
        case Phase.ROD, "done":
            return rod_set(state, heard)
        case Phase.SWEEP, "yes":
            return still_drags(state, heard)
        case Phase.SWEEP, "no":
            return tell(state, gap.CALL_THICKEST)
        case Phase.SWEEP, "correction":
            return correct_last(state)
        case Phase.SWEEP, "next":
            return leave_as_is(state, judge_here)
        case Phase.AFRESH, "yes":
            return afresh(state)
        case Phase.AFRESH, "no":
            return judge_not_flat(state, "", judge_here)
        case Phase.AGAIN, "yes":
            return begin_again(state)
        case Phase.AGAIN, "no":
            return advise(declined(state), "")
        case Phase.REFIT, "done":
            return refitted(state)
        case Phase.REFIT, "skip":
            return to_the_dial(state)
        case Phase.DECIDE, "yes":
            return go(state, Phase.CLOSE)
        case Phase.DECIDE, "no" if state.profile.method == "touch":
            return plan_by_touch(replace(state, axis_left_out=()), "")
        case ((Phase.TOUCH_FIRST | Phase.TOUCH_SECOND | Phase.TOUCH_LAST), _):
            return touch_command(state, name) or refuse(state, heard.words)
        case Phase.DECIDE, "no":
            return not_finished(state)
        case Phase.UNBOLT, "skip":
            left_out = (*state.axis_left_out, axis_packed(state))
            return advise(replace(state, axis_left_out=left_out, plan=None), "")
        case ((Phase.UNBOLT | Phase.PACK | Phase.BOLT_DOWN), _):
            return packing_command(state, name) or refuse(state, heard.words)
        case Phase.LOOSEN, "done":
            return go(state, Phase.SHIM)
        case Phase.LOOSEN, "skip":
            left_out = (*state.axis_left_out, FRONT_BACK)
            return advise(replace(state, axis_left_out=left_out, plan=None), "")
        case Phase.SHIM, "done":
            return shim_done(state)
        case Phase.SHIM, "skip":
            return go(state, Phase.TIGHTEN)
        case Phase.EASE, "done":
            return go(state, Phase.TAP)
        case Phase.EASE, "skip":
            left_out = (*state.axis_left_out, SIDES)
            return advise(replace(state, axis_left_out=left_out, plan=None), "")
        case Phase.TAP, "done":
            return go(state, Phase.TAP_LOCK)
        case Phase.CLOSE, "done":
            return _close(state)
        case Phase.PIN, "done":
            return correct_now(replace(state, pin_out=True), "")
        case ((Phase.SNUG_UP | Phase.MOVE | Phase.CLAMP), _):
            return head_command(state, name) or refuse(state, heard.words)
        case _:
            return beside(state, name, heard.at) or refuse(state, heard.words)


def _close(state: State) -> Out:
    closed = replace(state, phase=Phase.CLOSED, pending=None, turn=state.turn + 1)
    found, left = (tilt_words(one, state.profile) for one in (state.as_found, state.as_left))
    words = closing_words(state)
    if found:
        words = f"{prompts.closed(found, left)} {lean_words(state.as_left, state.profile)}"
    effects: tuple[Effect, ...] = (Say(words), Closed(finished=True))
    return replace(closed, last_said=words), effects


def _disregard(state: State, heard: Heard) -> Out:
    """Take the last thing back: a reading in a sweep, else the last answer."""
    if state.suspect is not None:
        return take_back(replace(state, suspect=None, instead=None), heard.at)
    if state.phase in (Phase.SWEEP, Phase.AFRESH):
        return take_back(state, heard.at)
    if state.settling and state.phase in (Phase.SURFACE, Phase.RELOCK):
        return settle_back(state)
    if state.phase in SPINDLE_CHECKS and state.phase is not Phase.SPINDLE:
        return check_back(state)
    if state.phase in (Phase.PACK, Phase.BOLT_DOWN):
        return packing_back(state)
    apart = beside(state, "disregard", heard.at)
    if apart is not None:
        return apart
    back = TABLE[state.phase].back
    if state.phase is Phase.CLOSE and state.as_left is not None:
        return advise(state, "")
    if back is Phase.SWEEP and state.touch.rounds:
        return round_back(state)
    if back is Phase.SWEEP:
        if state.sweeps and state.sweeps[-1].usable:
            return take_back_sweep(state, heard.at)
        return go(state, Phase.LOCK)
    if back is None:
        return refuse(state, heard.words)
    if state.phase is Phase.TIGHTEN and state.plan is not None:
        return go(replace(state, shim=state.plan.shim_before), back)
    return go(state, back)
