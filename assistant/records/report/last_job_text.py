"""What a job was told of the one before at the same machine, for its report."""

from decimal import Decimal

from assistant.dialogue.state import PACK_LENGTHWISE, PACK_SIDES, State, shim_in_place
from assistant.records.report.wording import Words, day_of

_AXES = {
    "shim": "a shim at the tilt bolt",
    PACK_LENGTHWISE: "a shim under back or front",
    PACK_SIDES: "a shim under left or right",
}


def last_job_words(state: State, words: Words) -> tuple[str, ...]:
    """Which job was built on, and what a shim was reckoned by before any trial of this one."""
    last = state.last
    if last is None:
        return ()
    told = [f"the job before was on {day_of(last.at)}"]
    first = state.found.before if state.found else None
    shim = first.shims.total if first and "shim" in state.shims_told else Decimal(0)
    if shim:
        there = shim_in_place(shim)
        told.append(f"its shim of {words.exact(shim)} {there.place} the tilt bolt was in as found")
    told += [
        f"{_AXES.get(one.kind, 'a shim')} was first reckoned by the job of {day_of(one.at)}: "
        f"{one.value:.2g} for one, over {words.length(one.over)}"
        for one in last.learnt
    ]
    return tuple(told)
