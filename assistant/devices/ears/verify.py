"""Accept, ask, reject or leave: what is done with an utterance, whichever recogniser decoded it.

How sure is sure is the recogniser's business: it says so with its limits. What always is asked is
the language's: a number without a sign, and a unit that means two things.
"""

from assistant.devices.ears.endpoint import Cut
from assistant.devices.ears.hearing import Decoded
from assistant.dialogue.messages import Decision
from grammar.meaning import OffScale, Reading, Unclear

PAIR_DOUBT = 0.5
"""How sure at most a teen is that may be its ty, or a ty that may be its teen."""


def verify(decoded: Decoded, cut: Cut) -> Decision:
    """What is done with this utterance."""
    if not decoded.hypotheses or cut.overlong or decoded.ours < decoded.limits.call:
        return "talk"
    best = decoded.hypotheses[0]
    if decoded.ours < decoded.limits.ask:
        # Numbers in other people's talk are not off this dial.
        return "talk" if isinstance(best.meaning, OffScale) else "reject"
    match best.meaning:
        case Unclear() | OffScale():
            return "reject"
        case Reading(signed=signed, doubtful_unit=doubtful) if not signed or doubtful:
            return "ask"
        case _:
            limits = decoded.limits
            sure = decoded.ours >= limits.ours and best.confidence >= limits.right
            return "accept" if sure else "ask"
