"""Settle: how rough the surface is, how well the lock repeats, how far it pulls."""

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import prompts
from assistant.dialogue.amounts import amount, way_of
from assistant.dialogue.asking import Out, ask, go, tell
from assistant.dialogue.messages import Effect, Learned
from assistant.dialogue.phases import Phase
from assistant.dialogue.state import SETTLED_AT, State
from assistant.metrology.scatter import sample_sd
from grammar.meaning import Reading

SETTLING = (Phase.SURFACE, Phase.RELOCK, Phase.SNUG, Phase.HARD)
"""The phases in which the noise is measured."""

FEWEST = 3
"""Readings that a scatter is made from at least."""

SPOKEN = Decimal("0.5")


def settle_begin(state: State) -> Out:
    """Begin with the surface; what was measured before stays until it is measured again."""
    return go(replace(state, settling=()), Phase.SURFACE)


def settle_reading(state: State, called: Reading) -> Out:
    """One reading of the measurement that is being made."""
    if state.phase is not Phase.SURFACE and called.station not in (None, SETTLED_AT):
        return ask(state, prompts.watch_this(SETTLED_AT))
    told = prompts.noted(called.value, way_of(state.profile))
    taken = replace(state, settling=(*state.settling, called.value), pending=None, misses=0)
    match state.phase:
        case Phase.SNUG:
            return go(taken, Phase.HARD, told)
        case Phase.HARD:
            # The last two are snug and hard, whatever was taken back between them.
            pull = abs(taken.settling[-1] - taken.settling[-2])
            return _finish(replace(taken, profile=replace(state.profile, lock_pull=pull)), told)
        case _:
            return tell(taken, told)


def settle_done(state: State) -> Out:
    """Enough readings of this kind: keep them and go on to the next kind."""
    if len(state.settling) < FEWEST:
        return ask(state, prompts.TOO_FEW)
    if state.phase is Phase.SURFACE:
        profile = replace(state.profile, surface=state.settling)
        return go(replace(state, profile=profile, settling=()), Phase.RELOCK)
    profile = replace(state.profile, relock=state.settling)
    return go(replace(state, profile=profile, settling=()), Phase.SNUG)


def settle_skip(state: State) -> Out:
    """Leave this kind out; what is known of it from before stays."""
    empty = replace(state, settling=())
    match state.phase:
        case Phase.SURFACE:
            return go(empty, Phase.RELOCK)
        case Phase.RELOCK:
            return go(empty, Phase.SNUG)
        case _:
            return _finish(empty, "")


def settle_back(state: State) -> Out:
    """Take the last reading of this kind back."""
    return ask(replace(state, settling=state.settling[:-1]), prompts.NOTED_BACK)


def _finish(state: State, told: str) -> Out:
    profile = state.profile
    words = prompts.settled(
        _scatter(profile.surface),
        _scatter(profile.relock),
        "" if profile.lock_pull is None else amount(profile.lock_pull, SPOKEN),
    )
    effects: tuple[Effect, ...] = (Learned(profile),)
    return go(replace(state, settling=()), Phase.LOCK, f"{told} {words}".strip(), *effects)


def _scatter(values: tuple[Decimal, ...]) -> str:
    """Twice the standard deviation: about what most readings stay within."""
    if len(values) < FEWEST:
        return ""
    return amount(2 * sample_sd([float(value) for value in values]), SPOKEN)
