"""What an answer proves of how the calls before it were heard; the ears learn from that.

A call is named by the turn in which it was heard. Only the voice is learnt from, but what is keyed
or typed may prove a call right or wrong as well.
"""

from dataclasses import replace

from assistant.dialogue.facts import Calls
from assistant.dialogue.messages import Confirmed, Effect, Heard, TakenBack
from assistant.dialogue.rows import EVERYWHERE
from assistant.dialogue.state import State
from grammar.meaning import Command, Sign, Wish

Out = tuple[State, tuple[Effect, ...]]


def taken(before: State, heard: Heard, out: Out, *, again: bool) -> Out:
    """After something that was taken, with what the ears are told of it and of calls before it.

    ``again``: it was half heard just before. An open question that is affirmed proves the call
    that it is about, one that is answered otherwise disproves it; "disregard", and the correction
    of the last reading, take the last call back that was taken.
    """
    after, effects = out
    calls, meaning = before.calls, heard.meaning
    name = meaning.name if isinstance(meaning, Command) else ""
    answered = before.pending is not None and after.pending != before.pending
    affirmed = answered and (again or name == "yes" or isinstance(meaning, Sign))
    denied = answered and not affirmed and name not in EVERYWHERE
    half = calls.half if again else ()
    meant = tuple(sorted({*(calls.asked if affirmed else ()), *half, *_turn(heard)}))
    taken_back = before.pending is None and (name == "disregard" or _corrected_last(before, after))
    back = calls.asked if denied else calls.taken if taken_back else ()
    if denied or name in EVERYWHERE or isinstance(meaning, Wish):
        last = calls.taken
    else:
        last = () if name == "disregard" else meant
    asked = () if answered else calls.asked
    return replace(after, calls=Calls(asked=asked, taken=last)), (*_told(back, meant), *effects)


def _told(back: tuple[int, ...], meant: tuple[int, ...]) -> list[Effect]:
    told: list[Effect] = [TakenBack(back)] if back else []
    return [*told, Confirmed(meant)] if meant else told


def half_heard(before: State, heard: Heard, out: Out, *, again: bool, asks: bool) -> Out:
    """After something that was not heard surely; ``asks``: a question is about it now."""
    after, effects = out
    half = (*(before.calls.half if again else ()), *_turn(heard))
    asked = half if asks else before.calls.asked
    return replace(after, calls=replace(before.calls, half=half, asked=asked)), effects


def not_ours(state: State) -> State:
    """After talk: to hear a thing twice, or a yes, where others talk proves nothing."""
    return replace(state, calls=Calls(taken=state.calls.taken))


def _turn(heard: Heard) -> tuple[int, ...]:
    return (heard.turn,) if heard.source == "voice" else ()


def _corrected_last(before: State, after: State) -> bool:
    """Whether the reading that was taken last has another value now."""
    if after.undone == before.undone or not after.undone or not before.readings:
        return False
    undone = after.undone[-1]
    return undone.reason == "correction" and undone.taken == before.readings[-1]
