"""What a screen shows, as plain data: a picture of the state, made by one pure function.

Nothing here decides anything, and nothing knows of terminals. Levels and whether the voice
is speaking are the devices' business and are added by whoever draws.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import amount, count_name, way_of
from assistant.dialogue.asking import offer_now, question, stopped_words
from assistant.dialogue.dial_setting import needs_sign
from assistant.dialogue.gauging import rod_leaf
from assistant.dialogue.judging import axes_words
from assistant.dialogue.keys import legend
from assistant.dialogue.machine import Profile
from assistant.dialogue.phases import INTRODUCTION, Phase
from assistant.dialogue.prompts import machines
from assistant.dialogue.reckoning import reading_gain
from assistant.dialogue.state import (
    AskCommand,
    AskGoOn,
    AskNoGo,
    AskReading,
    AskShim,
    AskSign,
    State,
    Taken,
)
from assistant.dialogue.touching import high_words
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import stands_out
from grammar.say import Way
from grammar.vocabulary import STATIONS, Station

Listening = Literal["listening", "standing by", "too loud", "no microphone", "closed"]

Mark = Literal["missing", "read", "awaited", "asked again"]

HEADLINES: dict[Phase, str] = {
    Phase.WHICH: "THIS?",
    Phase.KIND: "NEW",
    Phase.WAY: "HOW?",
    Phase.DIAL_UNIT: "UNIT",
    Phase.DIAL_FACE: "DIAL",
    Phase.SQUARE_AT: "BLADE",
    Phase.DIAL_REACH: "DIAL",
    Phase.SWEEP_SIZE: "SWEEP",
    Phase.SQUARENESS: "LIMIT",
    Phase.UNPLUGGED: "SAFE?",
    Phase.KEY_OUT: "SAFE?",
    Phase.TABLE_HELD: "SAFE?",
    Phase.SETUP: "SET UP",
    Phase.DIAMETER: "SET UP",
    Phase.TOLERANCE: "SET UP",
    Phase.SIGN: "SIGN?",
    Phase.SPINDLE: "CHECK?",
    Phase.RUNOUT: "TURN",
    Phase.RUNOUT_SIDE: "SIDE?",
    Phase.SHAKE: "SHAKE",
    Phase.END_PLAY: "LIFT",
    Phase.QUILL: "DOWN",
    Phase.LOCK: "LOCK",
    Phase.SURFACE: "ROUGH?",
    Phase.RELOCK: "RELOCK",
    Phase.SNUG: "SNUG",
    Phase.HARD: "HARD",
    Phase.ZERO: "ZERO",
    Phase.ROD: "ROD",
    Phase.TOUCH_FIRST: "FIRST?",
    Phase.TOUCH_SECOND: "NEXT?",
    Phase.TOUCH_LAST: "LAST?",
    Phase.SWEEP: "SWEEP",
    Phase.AFRESH: "REDO?",
    Phase.AGAIN: "AGAIN?",
    Phase.REFIT: "REFIT",
    Phase.LOCK_AGAIN: "LOCK",
    Phase.DECIDE: "END?",
    Phase.LOOSEN: "LOOSE",
    Phase.SHIM: "SHIM",
    Phase.TIGHTEN: "LOCK",
    Phase.EASE: "EASE",
    Phase.TAP: "TAP",
    Phase.TAP_LOCK: "LOCK",
    Phase.PIN: "PIN",
    Phase.SNUG_UP: "SNUG",
    Phase.MOVE: "MOVE",
    Phase.CLAMP: "LOCK",
    Phase.UNBOLT: "LOOSE",
    Phase.PACK: "SHIM",
    Phase.BOLT_DOWN: "LOCK",
    Phase.OTHER: "ELSE?",
    Phase.MOVE_TABLE: "MOVE",
    Phase.FORM: "FORM?",
    Phase.CORNERS: "EDGE",
    Phase.HOLLOW: "GAP",
    Phase.CLOSE: "CLOSE",
    Phase.CLOSED: "DONE",
}
"""The word for each phase that is read from across the shop; a sweep shows its station."""

MOVED_AT = (Phase.TAP, Phase.MOVE, Phase.CLAMP)
"""Phases in which the dial is watched at one station while something is moved."""

RULES = "Follow the machine's manual, local codes and licensed practice."
CAUTION = f"Unplugged. Spindle by hand. Table held. Glasses on. {RULES}"
"""Shown all the time."""

ORDERS = f"Unplug. Hold the table. Glasses on. Chuck key out. Spindle by hand. {RULES}"
"""Shown in its place until all of it was agreed to."""

BEFORE_SAFE = (*INTRODUCTION, Phase.UNPLUGGED, Phase.KEY_OUT, Phase.TABLE_HELD)


@dataclass(frozen=True, slots=True)
class StationView:
    """One station of the picture. ``value``: "+6", "-2.5", "0", or empty."""

    station: Station
    value: str
    mark: Mark


@dataclass(frozen=True, slots=True)
class View:
    """Everything on the screen.

    ``sweep``: 0 before there is a job. ``headline``: one word to be read from afar.
    ``number``: the value that matters now, as digits, with ``number_label`` saying what it
    is. ``step``: what is asked or to be done. ``said``: all that was said last.
    ``high``: the sides that are high beyond the noise, none when that is unknown;
    ``result``: the same in words, ``result_is_old`` when a new sweep is under way since.
    ``offers``: what can be said. ``legend``: keys that do something now and what they do.
    ``entry``: keys typed so far.
    """

    machine: str
    unit: str
    phase: str
    sweep: int
    headline: str
    number: str
    number_label: str
    step: str
    said: str
    stations: tuple[StationView, ...]
    high: tuple[Station, ...]
    result: str
    result_is_old: bool
    listening: Listening
    offers: tuple[str, ...]
    entry: str
    lost: tuple[str, ...]
    caution: str = CAUTION
    legend: tuple[tuple[str, str], ...] = ()


def view(state: State) -> View:
    """The picture of a state."""
    answer = state.as_left
    number, label = _number(state)
    last_words = stopped_words(state) if state.stopped else state.last_said
    ended = state.stopped or state.phase is Phase.CLOSED
    return View(
        machine=state.profile.name,
        unit=count_name(state.profile.scale),
        phase=str(state.phase),
        sweep=0
        if state.phase in INTRODUCTION
        else state.sweep_number
        if _sweeping(state) or not state.sweeps
        else len(state.sweeps),
        headline=_headline(state),
        number=number,
        number_label=label,
        step=last_words if ended else coaching(state) or question(state),
        said=state.last_said,
        stations=tuple(_station(state, station) for station in STATIONS),
        high=touched_sides(state) if answer is None or _sweeping(state) else high_sides(answer),
        result=_touched_words(state) if answer is None else axes_words(answer, state.profile),
        result_is_old=_sweeping(state),
        listening=_listening(state),
        offers=() if ended else _offers(state),
        entry=state.entry,
        lost=state.lost,
        caution=ORDERS if state.phase in BEFORE_SAFE or _asks_again(state) else CAUTION,
        legend=() if ended else legend(state),
    )


def coaching(state: State) -> str:
    """What is still to be moved after the last reading; it replaces the order that was given."""
    step = state.plan.step if state.plan else None
    last = state.tap_reading if state.phase is Phase.TAP else state.moving.reading
    if state.phase not in (Phase.TAP, Phase.MOVE) or state.pending or last is None:
        return ""
    if step is None or step.dial_target is None or step.change is None:
        return ""
    left = step.dial_target - last
    value = amount(left, state.profile.scale.step)
    if state.phase is Phase.MOVE:
        return (machines.back if left * step.change < 0 else machines.more)(value)
    rise = left * reading_gain(state.profile)
    coach = prompts.tap_back if rise * step.change < 0 else prompts.tap_more
    return coach(value, down=rise < 0)


def _asks_again(state: State) -> bool:
    """Whether somebody who comes back is asked anew whether the machine is safe."""
    return isinstance(state.pending, AskGoOn)


def digits(value: Decimal, profile: Profile) -> str:
    """A reading in digits, as this method has it: a gap has no sign."""
    return signed_digits(value).lstrip("+") if way_of(profile) == "plain" else signed_digits(value)


def signed_digits(value: Decimal) -> str:
    """A value in digits with its sign; zero has none.

    >>> signed_digits(Decimal("6.50")), signed_digits(Decimal("-2")), signed_digits(Decimal("0.0"))
    ('+6.5', '-2', '0')
    """
    if value == 0:
        return "0"
    plain = f"{abs(value):f}"
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    return f"{'-' if value < 0 else '+'}{plain}"


def high_sides(answer: Answer) -> tuple[Station, ...]:
    """The sides that are high beyond the noise: none, one, or two that share a corner."""
    budget = answer.budget
    sides: list[Station] = []
    if stands_out(answer.front_minus_back, budget.front_minus_back):
        sides.append("front" if answer.front_minus_back > 0 else "back")
    if stands_out(answer.right_minus_left, budget.right_minus_left):
        sides.append("right" if answer.right_minus_left > 0 else "left")
    return tuple(sides)


def touched_sides(state: State) -> tuple[Station, ...]:
    """The sides that dragged first and second in the last round by touch."""
    rounds = state.touch.rounds
    return tuple(s for s in (rounds[-1].first, rounds[-1].second) if s) if rounds else ()


def _touched_words(state: State) -> str:
    return high_words(state.touch.rounds[-1]) if state.touch.rounds else ""


def _sweeping(state: State) -> bool:
    """Whether a new sweep is under way, so that the answer is that of the one before."""
    return bool(state.readings) or state.phase in (Phase.ZERO, Phase.ROD, Phase.SWEEP)


def _headline(state: State) -> str:
    if state.stopped:
        return "STOP"
    if isinstance(state.pending, AskGoOn):
        return "GO ON?"
    if isinstance(state.pending, AskCommand):
        return "SURE?"
    if state.phase is Phase.SWEEP:
        return (state.awaited() or STATIONS[0]).upper()
    return HEADLINES[state.phase]


def _shown_readings(state: State) -> tuple[Taken, ...]:
    """The sweep under way, or the last one between sweeps."""
    if _sweeping(state) or not state.sweeps:
        return state.readings
    return state.sweeps[-1].readings


def _station(state: State, station: Station) -> StationView:
    readings = [taken for taken in _shown_readings(state) if taken.station == station]
    value = digits(readings[0].value, state.profile) if readings else ""
    if state.phase is Phase.SWEEP and station == state.awaited():
        return StationView(station, value, "asked again" if readings else "awaited")
    if state.phase in MOVED_AT and station == state.awaited():
        last = state.tap_reading if state.phase is Phase.TAP else state.moving.reading
        if last is None:
            return StationView(station, value, "awaited")
        return StationView(station, signed_digits(last), "asked again")
    return StationView(station, value, "read" if readings else "missing")


def _number(state: State) -> tuple[str, str]:
    """The digits that matter now and what they are."""
    if state.entry == "/":
        return state.entry, "and one more key"
    if state.entry:
        return state.entry, "typed, then Enter"
    match state.pending:
        case AskSign(reading=reading) if state.profile.method == "square":
            return signed_digits(abs(reading.value)).lstrip("+"), "open at the bottom?"
        case AskSign(reading=reading):
            elsewhere = state.elsewhere(reading)
            asked = f"{elsewhere}: plus or minus?" if elsewhere else "plus or minus?"
            return f"±{signed_digits(abs(reading.value)).lstrip('+')}", asked
        case AskReading(candidates=candidates):
            first = candidates[0]
            station = first.station or state.awaited() or STATIONS[0]
            return digits(first.value, state.profile), f"{station}: is that right?"
        case AskNoGo(station=station):
            return "", f"{station}: which does not go?"
        case AskShim(candidates=shims):
            return signed_digits(shims[0].total).lstrip("+"), "hundredths of shim?"
        case AskCommand() | AskGoOn() | None:
            return _number_of_phase(state)


def _number_of_phase(state: State) -> tuple[str, str]:
    if state.phase in INTRODUCTION:
        return _usual_figure(state)
    step = state.plan.step if state.plan else None
    if state.phase is Phase.SHIM and step is not None and step.total is not None:
        total = signed_digits(step.total).lstrip("+")
        return total, f"shim {step.place} the bolt" if step.place else "shim"
    if state.phase is Phase.PACK and step is not None and step.total is not None:
        return signed_digits(step.total).lstrip("+"), f"shim under the {step.station}"
    if state.phase in MOVED_AT and step is not None and step.dial_target is not None:
        name = "dial target" if way_of(state.profile) == "signed" else "leaf wanted"
        return digits(step.dial_target, state.profile), f"{name}, {step.station}"
    if state.phase is Phase.ROD:
        return digits(rod_leaf(state), state.profile), "leaf under the rod"
    last = max(state.readings, key=lambda taken: taken.order, default=None)
    if state.phase is Phase.SWEEP and last is not None and not last.zeroed:
        return digits(last.value, state.profile), f"{last.station}, the last reading"
    if state.phase is Phase.SWEEP and state.profile.method == "square":
        return "+ −", "open at the bottom, at the top"
    if state.phase is Phase.SWEEP and needs_sign(state.profile):
        return "±", "plus is plunger in, table high"
    return "", ""


def _usual_figure(state: State) -> tuple[str, str]:
    """What a new machine has if one agrees."""
    profile = state.profile
    inches = profile.scale.system == "thou"
    count = count_name(profile.scale)
    match state.phase:
        case Phase.SQUARE_AT if profile.instrument.square_height is not None:
            up = round(profile.instrument.square_height.to("in" if inches else "mm"), 2)
            return f"{up.normalize():f}", "inches up" if inches else "mm up"
        case Phase.DIAL_REACH if profile.instrument.face == "continuous":
            return str(profile.instrument.per_turn), f"{count} in a turn"
        case Phase.DIAL_REACH:
            return str(profile.scale.reach), f"largest number on the dial, {count}"
        case Phase.SWEEP_SIZE:
            across = round(profile.sweep_diameter.to("in" if inches else "mm"), 2)
            return f"{across.normalize():f}", "inches across" if inches else "mm across"
        case Phase.SQUARENESS:
            limit = round(profile.tolerance.mm / profile.scale.count_mm, 2)
            return f"{limit.normalize():f}", f"{count} over the sweep"
        case _:
            return "", ""


def _listening(state: State) -> Listening:
    if state.stopped or state.phase is Phase.CLOSED:
        return "closed"
    if state.standing_by:
        return "standing by"
    if "microphone" in state.lost or "recogniser" in state.lost:
        return "no microphone"
    return "too loud" if state.too_loud else "listening"


def _offers(state: State) -> tuple[str, ...]:
    """What can be said; numbers only where they are taken, not where they are refused."""
    offer = offer_now(state)
    if offer.shim:
        return (prompts.SHIM_HINT, *offer.phrases())
    signless = bool(offer.sizes) or not offer.stations
    if (state.awaited() is not None or signless) and (offer.readings or offer.sizes):
        way: Way = "signed" if offer.signed else "plain"
        return (prompts.number_hint(state.awaited(), way), *offer.phrases())
    return offer.phrases()
