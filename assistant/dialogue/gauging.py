"""Leaves as gauges: which there are, which the rod is set to, and what a called one leaves open."""

from decimal import Decimal

from assistant.dialogue.machine import Profile
from assistant.dialogue.state import AskNoGo, State, Taken
from assistant.metrology.gauges import next_up, worth_asking

USUAL_INCH, USUAL_METRIC = Decimal(10), Decimal(25)
"""The rod is set to a leaf of this at least, in counts, so that it clears the high side
(common practice, no source)."""


def gauges(profile: Profile) -> tuple[Decimal, ...]:
    """The leaves for measuring, in counts: the person's own, else those for shims."""
    return profile.instrument.gauges or profile.stock


def rod_leaf(state: State) -> Decimal:
    """The leaf that the rod is set to at the first station."""
    if state.rod is not None:
        return state.rod
    if state.profile.instrument.set_to is not None:
        return state.profile.instrument.set_to
    return leaf_from(state.profile, usual_leaf(state.profile))


def usual_leaf(profile: Profile) -> Decimal:
    """A usual thickness to set the rod to, and to add when it touches."""
    return USUAL_INCH if profile.scale.system == "thou" else USUAL_METRIC


def leaf_from(profile: Profile, least: Decimal) -> Decimal:
    """The thinnest leaf that is not thinner than this, or that thickness as a stack."""
    return min((leaf for leaf in gauges(profile) if leaf >= least), default=least)


def no_go_of(profile: Profile, go: Decimal) -> Decimal | None:
    """By leaves: what is taken not to go where ``go`` does, until it is called."""
    if profile.method == "indicator":
        return None
    size = next_up(abs(go), gauges(profile))
    return -size if go < 0 else size


def no_go_question(taken: Taken, sd: float) -> AskNoGo | None:
    """The question which leaf does not go, where the next one leaves much open."""
    if taken.no_go is None or taken.closing or taken.zeroed or not taken.value:
        return None
    worth = worth_asking(abs(taken.value), abs(taken.no_go), sd)
    return AskNoGo(taken.station) if worth else None
