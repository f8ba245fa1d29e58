"""What is left to do at the machine, told from where the job stands."""

from decimal import Decimal

from assistant.dialogue.job import row_of
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.state import Plan, State
from assistant.metrology.answer import Answer
from assistant.metrology.judgement import stands_out
from assistant.records.journal.history import History
from assistant.records.names import one_line
from assistant.records.report.wording import Words
from grammar.vocabulary import STATIONS


def loosened_since(state: State) -> bool:
    """Whether something was loosened since the last sweep, so that it tells nothing any more."""
    corrected = row_of(state.phase).left == "sweep" and state.plan is not None
    return state.loosened or corrected


def left_to_do(history: History, words: Words) -> tuple[str, ...]:
    """One sentence each, in the order in which it is done."""
    state = history.state
    if history.finished:
        return _after_the_job(history.as_left, words)
    told = (*_under_way(state, words), f"Go on with it: {_command(history)}.")
    if row_of(state.phase).loose and state.phase is not Lock.LOCK:
        held = "head" if words.profile.kind == "head" else "table"
        return (f"The {held} may be loose. Hold it first, hands clear.", *told)
    return told


def _command(history: History) -> str:
    name = one_line(history.row.machine, 60)
    return f"sweepsay run '{name}'" if name else "sweepsay run"


def _under_way(state: State, words: Words) -> tuple[str, ...]:
    row = row_of(state.phase)
    again = "try all round again" if words.profile.method == "touch" else "sweep again"
    begun = state.sweeps or state.readings or state.touch.rounds
    if not begun:
        return ("Make it safe, set up, lock all, zero the dial, sweep.",)
    if row.left == "correct" and state.plan is not None:
        return (f"{_capital(correction_told(state.plan, words))}.", f"Tighten, lock all, {again}.")
    if row.left == "tighten":
        return (f"Tighten, lock all, {again}.",)
    if row.left == "sweep" and row.on_reading is not None and state.readings:
        read = {taken.station for taken in state.readings}
        missing = [station for station in STATIONS if station not in read]
        wanted = ", ".join([*missing, f"{STATIONS[0]} again"])
        return (f"Finish sweep {state.sweep_number}: {wanted}.",)
    if row.left == "sweep":
        return (f"Lock all and {again}.",)
    if row.left == "repeat":
        return ("Sweep once more to be sure.",)
    answer = state.as_left
    proven = answer is None or answer.verdict == "within"
    open_yet = () if proven else _after_the_job(answer, words)
    return (*open_yet, "Finish: lock all, bar out, chuck key out.")


def correction_told(plan: Plan, words: Words) -> str:
    """What was told to be done; of a shim, what it takes the place of."""
    told = words.step(plan.step)
    if plan.kind == "shim" and plan.shim_before and plan.step.total:
        return f"{told}, in place of {words.shim_in(plan.shim_before)}"
    return told


def _after_the_job(left: Answer | None, words: Words) -> tuple[str, ...]:
    if left is None:
        return ()
    if left.verdict == "within":
        return (f"Nothing: it is square within {words.tolerance()}.",)
    open_axes = [
        f"{axis}: {told}{_how(left, front, words)}."
        for axis, told, front, difference, budget in (
            ("Front to back", words.front_to_back(left), True,
             left.front_minus_back, left.budget.front_minus_back),
            ("Side to side", words.side_to_side(left), False,
             left.right_minus_left, left.budget.right_minus_left),
        )
        if stands_out(difference, budget)
    ]  # fmt: skip
    if open_axes:
        return tuple(open_axes)
    if left.verdict is None:
        return ("Nothing that is large enough to be sure of.",)
    return ("What is left is too small to be sure of: sweep again, or settle to learn the noise.",)


def _how(left: Answer, front: bool, words: Words) -> str:
    """The correction that the last sweep asks for, where it is one shim or one tap."""
    if words.profile.kind not in ("bolted", "pinned"):
        return ""
    shim, tap = left.shim, left.tap
    if front and shim.place is not None and shim.total:
        total = Decimal(str(round(shim.total, 2)))
        return f"; {words.exact(total)} of shim in all, {shim.place} the tilt bolt"
    if not front and tap.dial_target is not None and tap.change:
        way = "up" if tap.change > 0 else "down"
        return f"; tap the {tap.watch} {way} by {words.amount(tap.change)}"
    return ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
