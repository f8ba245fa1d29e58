"""From what is called at the dial to what it means: signs, and faces that count one way round."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.dialogue.machine import Profile
from assistant.dialogue.state import State
from assistant.dialogue.wording import NO_SIGN
from assistant.metrology.confusions import misheard_as
from assistant.metrology.consistency import Alternative
from assistant.metrology.dial import on_continuous
from grammar.meaning import Hypothesis, Reading, SignName
from grammar.offer import Offer

TURN_MISSED = 0.1
"""Weight of a turn of the hand that went unnoticed, against the ways to mishear (judgement)."""


@dataclass(frozen=True, slots=True)
class Impossible:
    """A number that cannot be read here, and the words to say so."""

    words: str


@dataclass(frozen=True, slots=True)
class NoSign:
    """The number lacks the sign that it needs."""


Meant = Reading | tuple[Reading, ...] | Impossible | NoSign
"""A signed reading; several when it may be either; or why it is none."""


def continuous(profile: Profile) -> bool:
    """Whether the dial counts one way round."""
    return profile.method == "indicator" and profile.instrument.face == "continuous"


def needs_sign(profile: Profile) -> bool:
    """Whether a number without its sign says too little."""
    return profile.method == "square" or (profile.method == "indicator" and not continuous(profile))


def as_read(profile: Profile, offer: Offer) -> Offer:
    """The offer of readings as this rig shows them: without signs, and up to one turn."""
    if not offer.readings or (needs_sign(profile) and profile.method != "square"):
        return offer
    return replace(
        offer, signed=False, turn=profile.instrument.per_turn if continuous(profile) else 0
    )


def meant_by(state: State, called: Reading, expected: Decimal | None = None) -> Meant:
    """What a called number means at this rig, where it is ``expected`` near something."""
    profile = state.profile
    if profile.method == "gap":
        return called if called.value >= 0 else Impossible(NO_SIGN)
    if called.signed and called.value:
        return called
    if not continuous(profile):
        return called if called.signed else NoSign()
    turn = Decimal(profile.instrument.per_turn)
    if not 0 <= called.value < turn:
        # Turns were counted: the number is not on the face, and is a reading going up.
        return replace(called, signed=True)
    reach = Decimal(profile.scale.reach)
    face = on_continuous(called.value, turn, expected or Decimal(0),
                         within=None if expected is not None else max(reach, turn / 2))  # fmt: skip
    meant = replace(called, value=face.value, signed=True)
    if face.ambiguous or abs(face.value) > reach:
        return (meant, replace(meant, value=face.rival))
    return meant


def alternatives_of(
    profile: Profile, value: Decimal, heard: Sequence[Hypothesis]
) -> list[Alternative]:
    """What a reading may have been instead: what else was heard, and what a face hides."""
    others = [
        Alternative(_nearest(profile, hypothesis.meaning.value), hypothesis.confidence)
        for hypothesis in heard
        if isinstance(hypothesis.meaning, Reading)
    ]
    turn, reach = Decimal(profile.instrument.per_turn), Decimal(profile.scale.reach)
    if profile.method == "indicator" and 2 * reach > turn:
        # The hand may have gone round once more than was noticed, whatever the face.
        off = (value - turn, value + turn)
        others += [Alternative(other, TURN_MISSED) for other in off if abs(other) <= reach]
    if continuous(profile):
        others += [
            Alternative(_nearest(profile, other.value), other.prior)
            for other in misheard_as(value % turn, signed=False, reach=turn - 1)
        ]
    return others


def _nearest(profile: Profile, called: Decimal) -> Decimal:
    turn = Decimal(profile.instrument.per_turn)
    if not continuous(profile) or not 0 <= called < turn:
        return called
    return on_continuous(called, turn).value


def turns_asked(profile: Profile, candidates: Sequence[Reading]) -> bool:
    """Whether what is asked is how often the hand went round, and a small hand counts that."""
    if not profile.instrument.counter or len(candidates) < 2:
        return False
    apart = abs(candidates[0].value - candidates[1].value)
    return apart == profile.instrument.per_turn


def sign_unknown(profile: Profile) -> bool:
    """Whether a leaf under the tip has to tell what a higher table does to the number."""
    return profile.method == "indicator" and profile.instrument.higher == "ask"


def sign_found(state: State, sign: SignName) -> State:
    """The sign test is done: the instrument is known from now on."""
    instrument = replace(state.profile.instrument, higher=sign)
    return replace(state, profile=replace(state.profile, instrument=instrument))
