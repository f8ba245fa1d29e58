"""Accept, ask or reject: the judgement on a decoded utterance."""

from assistant.devices.ears import Decoded, Outcome
from assistant.devices.endpoint import Cut
from grammar.meaning import Reading, Unclear


def judge(decoded: Decoded, cut: Cut) -> Outcome:
    """What is done with this utterance."""
    if not decoded.hypotheses or cut.overlong:
        return "reject"
    best = decoded.hypotheses[0]
    match best.meaning:
        case Unclear():
            return "reject"
        case Reading(signed=signed, doubtful_unit=doubtful) if not signed or doubtful:
            return "ask" if decoded.ours >= 0.3 else "reject"
        case _:
            return "accept" if decoded.ours >= 0.5 else "reject"
