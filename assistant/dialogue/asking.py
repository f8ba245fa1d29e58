"""Asking: a state to the question it is waiting on, and to what is listened for."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import count_name, size_words, tolerance_words, way_of
from assistant.dialogue.apart import apart_question
from assistant.dialogue.checks import spindle_question
from assistant.dialogue.dial_setting import as_read, sign_unknown, turns_asked
from assistant.dialogue.gauging import rod_leaf
from assistant.dialogue.machine import Method, Profile
from assistant.dialogue.messages import Effect, Listen, Say, Step
from assistant.dialogue.packing_plan import packing_question, packing_step
from assistant.dialogue.phases import EVERYWHERE, INTRODUCTION, TABLE, Phase, offer
from assistant.dialogue.prompts import dial, gap, introduction, machines, packing, square, touch
from assistant.dialogue.prompts import repeating as again_prompts
from assistant.dialogue.state import (
    SETTLED_AT,
    AskCommand,
    AskGoOn,
    AskNoGo,
    AskReading,
    AskShim,
    AskSign,
    State,
)
from assistant.metrology.stations import OPPOSITE
from grammar.numerals import number_words
from grammar.offer import Offer
from grammar.vocabulary import STATIONS, Station

Out = tuple[State, tuple[Effect, ...]]

BAR_IN: dict[Method, str] = {
    "gap": gap.ROD_IN, "square": square.BAR_IN,
}  # fmt: skip
"""What stands in the chuck by each method, where it is not the bar of a dial."""

FIRST: Station = STATIONS[0]
"""The station where the dial is zeroed and where a sweep closes."""


def ask(state: State, prefix: str = "", *effects: Effect) -> Out:
    """Put the state's question, after a word of what went before, and listen.

    The turn is counted up here and only here: what was heard before this question was
    put carries an older turn and is dropped.
    """
    text = f"{prefix} {question(state)}".strip()
    asked = replace(state, turn=state.turn + 1, last_said=text, entry="")
    return asked, (*effects, Say(text), listen(asked))


def tell(state: State, text: str, *effects: Effect) -> Out:
    """Say something in place of the question, which stays open, and listen."""
    told = replace(state, turn=state.turn + 1, last_said=text, entry="")
    return told, (*effects, Say(text), listen(told))


def go(state: State, phase: Phase, prefix: str = "", *effects: Effect) -> Out:
    """Enter a phase: give its step, put its question."""
    entered = replace(state, phase=_by_method(state.profile, phase), pending=None, misses=0)
    step = phase_step(entered)
    return ask(entered, prefix, *effects, *((step,) if step else ()))


def _by_method(profile: Profile, phase: Phase) -> Phase:
    """The phase that stands in for this one by the profile's method."""
    if phase is Phase.ZERO and profile.method == "gap":
        return Phase.ROD
    if phase is Phase.ZERO and profile.method == "touch":
        return Phase.TOUCH_FIRST
    if phase is Phase.ZERO and profile.method == "square":
        return Phase.SWEEP
    if phase is Phase.LOCK and sign_unknown(profile):
        return Phase.SIGN
    return phase


def listen(state: State) -> Listen:
    """What to listen for in this state."""
    station = state.awaited()
    return Listen(state.turn, str(state.phase), station, offer_now(state))


def offer_now(state: State) -> Offer:
    """The offer of the phase, narrowed or widened by a question that is open."""
    # Here the dial is known: of tenths those that it shows.
    offer = replace(_offer(state), any_tenths=False)
    # A tolerance is a plain size, whatever the dial is like, and a sign test wants the sign.
    if state.profile.method == "touch" and state.phase not in (Phase.TOLERANCE, Phase.DIAMETER):
        # No number is ever read, and the noise of none is measured.
        commands = tuple(name for name in offer.commands if name != "settle")
        return replace(offer, commands=commands, readings=False)
    plain = (Phase.TOLERANCE, Phase.SIGN)
    return offer if state.phase in plain else as_read(state.profile, offer)


def _offer(state: State) -> Offer:
    scale = state.profile.scale
    if state.standing_by:
        return Offer(scale, ("go ahead", "stop"))
    match state.pending:
        case AskSign() if state.profile.method == "square":
            return Offer(scale, ("yes", "no", "disregard", *EVERYWHERE), readings=True)
        case AskSign():
            return Offer(scale, ("disregard", *EVERYWHERE), readings=True, signs=True)
        case AskReading() | AskShim():
            answers, row = ("yes", "no", "disregard", *EVERYWHERE), TABLE[state.phase]
            return Offer(scale, answers, readings=row.readings, shim=row.shim)
        case AskNoGo():
            return Offer(scale, ("done", "skip", "disregard", *EVERYWHERE), readings=True)
        case AskCommand(command=asked):
            again = () if asked.name in EVERYWHERE else (asked.name,)
            return Offer(scale, ("yes", "no", *again, *EVERYWHERE))
        case AskGoOn():
            return Offer(scale, ("yes", "no", "stop", "say again", "help"))
        case None:
            full = offer(state.phase, scale)
            if state.phase is Phase.SIGN:
                full = replace(full, signs=True)
            if state.phase in (Phase.TOUCH_FIRST, Phase.TOUCH_SECOND):
                full = replace(full, sides=True)
            if leaf_still_asked(state):
                full = replace(full, commands=("yes", "no", *full.commands))
            if state.suspect is not None:
                return full
            # There is nothing to leave as it is unless a reading is asked again.
            return replace(full, commands=tuple(n for n in full.commands if n != "next"))


def stopped_words(state: State) -> str:
    """The last words of a job that was stopped."""
    return introduction.STOPPED if state.phase in INTRODUCTION else prompts.STOPPED


def wants_number(state: State) -> bool:
    """Whether a number does something now, and is not only listened for to be refused."""
    offer = offer_now(state)
    refused = TABLE[state.phase].loose and state.awaited() is None
    return bool(offer.sizes or offer.shim or (offer.readings and not refused))


def question(state: State) -> str:
    """The words of what the state is waiting for."""
    match state.pending:
        case AskSign(reading=reading) if state.profile.method == "square":
            return square.which_end(reading.value)
        case AskSign(reading=reading):
            return prompts.ask_sign(reading.value, state.elsewhere(reading))
        case AskReading(candidates=candidates):
            first = candidates[0]
            station = first.station or state.awaited() or FIRST
            if turns_asked(state.profile, candidates):
                return dial.counter(prompts.ask_reading(station, first.value))
            if first.doubtful_unit:
                return prompts.ask_tenths(station, first.value, state.profile.scale)
            return prompts.ask_reading(station, first.value, way_of(state.profile))
        case AskNoGo(station=station):
            return gap.which_not(station)
        case AskShim(candidates=shims):
            return packing.ask_shim(shims[0].total, not shims[1:])
        case AskCommand(command=command):
            if command.name == "stop":
                before = state.phase in INTRODUCTION
                return introduction.ASK_STOP if before else prompts.ASK_STOP
            return prompts.ask_command(command)
        case AskGoOn(unplugged=unplugged):
            return prompts.STILL_UNPLUGGED if unplugged else prompts.GO_ON
        case None:
            return _phase_question(state)


def _phase_question(state: State) -> str:
    profile = state.profile
    match state.phase:
        case Phase.WHICH | Phase.KIND:
            return introduction.machine(_machine_asked(state))
        case Phase.WAY:
            about = state.introduction
            return introduction.WAYS[about.way if about else 0]
        case Phase.DIAL_UNIT:
            return introduction.INCH
        case Phase.DIAL_FACE:
            return introduction.BOTH_WAYS
        case Phase.SQUARE_AT:
            height = profile.instrument.square_height or profile.sweep_diameter
            return introduction.square_at(size_words(height, profile.scale))
        case Phase.DIAL_REACH if profile.instrument.face == "continuous":
            return introduction.turn(number_words(Decimal(profile.instrument.per_turn)))
        case Phase.DIAL_REACH:
            number = number_words(Decimal(profile.scale.reach))
            return introduction.reach(number, count_name(profile.scale))
        case Phase.SWEEP_SIZE:
            return introduction.sweep(size_words(profile.sweep_diameter, profile.scale))
        case Phase.SQUARENESS:
            return introduction.tolerance(tolerance_words(profile))
        case Phase.UNPLUGGED:
            return prompts.UNPLUGGED
        case Phase.KEY_OUT:
            return prompts.KEY_OUT
        case Phase.TABLE_HELD:
            return machines.HEAD_HELD if _is_head(profile) else prompts.TABLE_HELD
        case Phase.SETUP if profile.method == "touch":
            return touch.ROD_IN
        case Phase.SETUP:
            ready = BAR_IN.get(profile.method, prompts.BAR_IN)
            return prompts.set_up(size_words(profile.sweep_diameter, profile.scale),
                                  tolerance_words(profile), ready)  # fmt: skip
        case Phase.DIAMETER:
            return prompts.diameter("inches" if profile.scale.system == "thou" else "millimetres")
        case Phase.TOLERANCE:
            return prompts.tolerance(count_name(profile.scale))
        case Phase.SIGN:
            return dial.sign_test(profile.instrument.face == "continuous")
        case (
            Phase.SPINDLE
            | Phase.RUNOUT
            | Phase.RUNOUT_SIDE
            | Phase.SHAKE
            | Phase.END_PLAY
            | Phase.QUILL
        ):
            return spindle_question(state)
        case Phase.LOCK:
            if profile.kind == "packed":
                return packing.LOCK
            return machines.LOCK_HEAD if _is_head(profile) else prompts.LOCK
        case Phase.SURFACE:
            surfaces = {"gap": gap.SURFACE, "square": square.SURFACE}
            return surfaces.get(profile.method, prompts.SURFACE)
        case Phase.RELOCK:
            again = machines.tighten_again if _is_head(profile) else prompts.relock
            return again(SETTLED_AT)
        case Phase.SNUG:
            return prompts.snug(SETTLED_AT)
        case Phase.HARD:
            return prompts.hard(SETTLED_AT)
        case Phase.ZERO:
            return prompts.zero(FIRST)
        case Phase.ROD:
            return gap.set_rod(FIRST, rod_leaf(state))
        case Phase.TOUCH_FIRST:
            return touch.FIRST
        case Phase.TOUCH_SECOND:
            return touch.SECOND
        case Phase.TOUCH_LAST:
            return touch.last(OPPOSITE[state.touch.first or FIRST])
        case Phase.SWEEP:
            return _station_question(state)
        case Phase.AFRESH:
            return again_prompts.SWEEP_AFRESH
        case Phase.AGAIN:
            return again_prompts.REFIT_AGAIN if state.refit_due else again_prompts.SWEEP_AGAIN
        case Phase.REFIT:
            return again_prompts.REFIT
        case Phase.LOCK_AGAIN:
            return again_prompts.LOCK_AGAIN
        case Phase.DECIDE:
            return prompts.FINISH_QUESTION
        case Phase.LOOSEN:
            return prompts.LOOSEN
        case Phase.SHIM:
            step = state.plan.step if state.plan else None
            if step is None or not step.total or step.place is None:
                return prompts.SHIM_OUT
            return prompts.shim(step.leaves, step.total, step.place)
        case Phase.TIGHTEN:
            return prompts.TIGHTEN
        case Phase.EASE:
            what = {"gap": "Rod", "touch": "Rod", "square": "Square"}.get(profile.method, "Dial")
            return prompts.ease(_watched(state), what)
        case Phase.TAP:
            step = state.plan.step if state.plan else None
            if step is not None and profile.method == "touch":
                return touch.tap(_watched(state))
            if step is None or step.change is None or step.dial_target is None:
                return prompts.TAP_LOCK
            way = way_of(profile)
            return prompts.tap(_watched(state), step.change < 0, step.dial_target, way)
        case Phase.TAP_LOCK:
            return prompts.TAP_LOCK
        case Phase.PIN:
            return machines.PIN_OUT
        case Phase.SNUG_UP | Phase.MOVE | Phase.CLAMP:
            return _moving_question(state)
        case Phase.UNBOLT | Phase.PACK | Phase.BOLT_DOWN:
            return packing_question(state)
        case Phase.OTHER | Phase.MOVE_TABLE | Phase.FORM | Phase.CORNERS | Phase.HOLLOW:
            return apart_question(state)
        case Phase.CLOSE:
            return prompts.CLOSE
        case Phase.CLOSED:
            return ""


def _machine_asked(state: State) -> str:
    """The machine that is known, or the kind, which the introduction has come to."""
    about = state.introduction
    if about is None:
        return state.profile.name
    if state.phase is Phase.WHICH:
        return about.known[about.at]
    return about.kinds[about.at][0].name


def _station_question(state: State) -> str:
    station = state.awaited() or FIRST
    heard = None if state.suspect is None else state.called(state.suspect)
    if heard is not None and state.instead is not None:
        return prompts.which(station, heard.value, state.instead, way_of(state.profile))
    if state.profile.method == "square" and not state.readings:
        return square.first(station)
    if leaf_still_asked(state):
        return gap.still_drags(station, state.readings[0].value)
    if state.suspect is not None or state.taken(station) is not None:
        return prompts.call_again(station)
    return prompts.call(station)


def _moving_question(state: State) -> str:
    step, watch = (state.plan.step if state.plan else None), _watched(state)
    head = _is_head(state.profile)
    if state.phase is Phase.CLAMP:
        return machines.clamp_head(watch) if head else machines.clamp_table(watch)
    if state.phase is Phase.SNUG_UP:
        if not head:
            return prompts.ease(watch)
        return machines.NOD_SNUG if watch == "front" else machines.TILT_SNUG
    target = (step.dial_target if step else None) or Decimal(0)
    falls = ((step.change if step else None) or Decimal(0)) < 0
    if not head:
        return prompts.tap(watch, falls, target)
    # The dial falls where the head goes up.
    return (machines.nod if watch == "front" else machines.tilt)(falls, target)


def _is_head(profile: Profile) -> bool:
    return profile.kind == "head"


def leaf_still_asked(state: State) -> bool:
    """Whether the leaf that the rod was set to is asked about, to close the sweep."""
    if state.profile.method != "gap" or state.phase is not Phase.SWEEP or state.pending:
        return False
    return state.awaited() == FIRST and state.instead is None


def _watched(state: State) -> Station:
    return (state.plan.step.station if state.plan else None) or "right"


def _clamp(state: State) -> str:
    if not _is_head(state.profile):
        return "table lock"
    return "nod bolts" if _watched(state) == "front" else "head bolts"


def phase_step(state: State) -> Step | None:
    """What the person is to do with their hands on entering the phase, for the record."""
    plan = state.plan.step if state.plan else None
    match state.phase:
        case Phase.LOCK:
            what = "knee, saddle, table, quill and head" if _is_head(state.profile) else ""
            return Step("tighten", what=what or "table, column and quill")
        case Phase.ZERO:
            return Step("zero", station=FIRST)
        case Phase.REFIT:
            return Step("refit", what="bar, half a turn round in the chuck")
        case Phase.LOCK_AGAIN:
            return Step("relock", what="table and column")
        case Phase.ROD:
            return Step("set", what="rod", station=FIRST, total=rod_leaf(state))
        case Phase.TOUCH_FIRST:
            return Step("lower", what="rod")
        case Phase.LOOSEN:
            return Step("loosen", what="tilt bolt")
        case Phase.SHIM | Phase.TAP | Phase.MOVE:
            return plan
        case Phase.MOVE_TABLE:
            return Step("tighten", what="table, at another height or swing")
        case Phase.PIN:
            return Step("pull pin", what="locating pin")
        case Phase.SNUG_UP:
            return Step("loosen", what=_clamp(state), station=_watched(state))
        case Phase.CLAMP:
            return Step("tighten", what=_clamp(state), station=_watched(state))
        case Phase.UNBOLT | Phase.PACK | Phase.BOLT_DOWN:
            return packing_step(state)
        case Phase.TIGHTEN:
            return Step("tighten", what="tilt bolt and locks")
        case Phase.EASE:
            return Step("loosen", what="table lock", station=_watched(state))
        case Phase.TAP_LOCK:
            return Step("tighten", what="table lock")
        case Phase.CLOSE:
            return Step("close", what="locks; bar out; chuck key out")
        case _:
            return None
