"""What a called number does, by phase: it is taken, asked about, or refused with the reason."""

from dataclasses import replace

from assistant.dialogue import prompts
from assistant.dialogue.asking import Out, ask, go
from assistant.dialogue.checks import SPINDLE_CHECKS
from assistant.dialogue.correcting import tapped
from assistant.dialogue.dial_setting import Impossible, NoSign, meant_by
from assistant.dialogue.form_sweep import form_reading
from assistant.dialogue.gap_sweep import rod_set, take_gap
from assistant.dialogue.head_moves import moved
from assistant.dialogue.messages import Heard
from assistant.dialogue.other_heights import judge_here as judge
from assistant.dialogue.phases import CALLED, TABLE, Phase
from assistant.dialogue.settling import SETTLING, settle_reading
from assistant.dialogue.sign_test import sign_told
from assistant.dialogue.spindle_checks import check_reading
from assistant.dialogue.state import AskReading, AskSign, State
from assistant.dialogue.sweeping import take, zeroed
from assistant.dialogue.touching import no_numbers
from assistant.metrology.lengths import Length
from grammar.meaning import Reading


def reading(state: State, called: Reading, heard: Heard) -> Out:
    """A called number, by phase; refused with the reason while it could not be true."""
    row = TABLE[state.phase]
    if state.profile.method == "touch" and state.phase not in (Phase.TOLERANCE, Phase.DIAMETER):
        return no_numbers(state)
    match state.phase:
        case phase if phase in CALLED or phase in SETTLING or phase is Phase.CORNERS:
            return _meant(state, called, heard)
        case Phase.HOLLOW:
            return form_reading(state, called)
        case Phase.SIGN:
            return sign_told(state, called) or ask(state)
        case Phase.ROD if not called.correction and not called.station:
            return rod_set(state, heard, called.value)
        case Phase.ROD:
            return ask(state, prompts.NOT_ZEROED)
        case Phase.ZERO if called.value == 0 and not called.correction:
            return zeroed(state, heard)
        case Phase.ZERO:
            return ask(state, prompts.NOT_ZEROED)
        case phase if phase in SPINDLE_CHECKS and row.readings:
            return check_reading(state, called, heard)
        case Phase.TOLERANCE:
            return _tolerance(state, called)
        case Phase.DIAMETER:
            inches = state.profile.scale.system == "thou"
            return diameter(state, Length.of(called.value, "in" if inches else "mm"))
        case _:
            word = prompts.NOT_WHILE_LOOSE if row.loose else prompts.not_now(heard.words)
            return ask(state, word)


def _meant(state: State, called: Reading, heard: Heard) -> Out:
    """A number read at the rig: asked about while it may mean more than one thing."""
    match meant_by(state, called):
        case NoSign():
            return _ask_sign(state, called, heard)
        case Impossible(words=words):
            return ask(state, words)
        case Reading() as meant if state.phase in SETTLING:
            return settle_reading(state, meant)
        case Reading() as meant if meant.doubtful_unit:
            return ask(replace(state, pending=AskReading((meant,))))
        case Reading() as meant:
            return take_called(state, meant, heard)
        case candidates:
            return ask(replace(state, pending=AskReading(candidates)))


def _ask_sign(state: State, called: Reading, heard: Heard) -> Out:
    pending = AskSign(called, heard.words, heard.confidence, heard.alternatives)
    return ask(replace(state, pending=pending))


def take_called(state: State, called: Reading, heard: Heard) -> Out:
    """A reading whose meaning is settled: kept, or weighed against what is aimed at."""
    settled = replace(state, pending=None)
    if state.phase is Phase.TAP:
        return tapped(settled, called)
    if state.phase in (Phase.MOVE, Phase.CLAMP):
        return moved(settled, called)
    if state.phase is Phase.CORNERS:
        return form_reading(settled, called)
    if state.profile.method == "gap":
        return take_gap(settled, called, heard)
    return take(settled, called, heard, judge)


def diameter(state: State, size: Length) -> Out:
    """The sweep diameter of this job."""
    if size.mm <= 0:
        return ask(state, prompts.TOO_SMALL)
    profile = replace(state.profile, sweep_diameter=size)
    return go(replace(state, profile=profile), Phase.TOLERANCE)


def _tolerance(state: State, called: Reading) -> Out:
    if called.value <= 0:
        return ask(state, prompts.TOO_SMALL)
    size = Length(called.value * state.profile.scale.count_mm)
    profile = replace(state.profile, tolerance=size, tolerance_over=None)
    return go(replace(state, profile=profile), Phase.SPINDLE)
