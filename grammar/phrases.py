"""An offer compiled to the phrase list that Vosk takes.

Vosk makes a two-word language model of the list, not a grammar, so what it returns goes
through the same parser; whole phrases are listed where that lends it context.
"""

from grammar.offer import Offer
from grammar.sentences import Alt, Node, Opt, Seq, sentences
from grammar.written import spoken_number

UNKNOWN = "[unk]"
"""The entry that stands for everything that is not ours, where the model has one."""


def phrases(offer: Offer) -> list[str]:
    """Every phrase of the offer's tree, sorted, with the unknown entry last.

    Where numbers are called, the words of those that the dial cannot show are there too.
    """
    found = _phrases(sentences(offer))
    if offer.readings:
        found |= _phrases(spoken_number(offer.scale.reach))
    return [*sorted(found), UNKNOWN]


def _phrases(node: Node) -> set[str]:
    match node:
        case str():
            return {node}
        case Seq(parts=parts) | Alt(choices=parts):
            return set().union(*(_phrases(part) for part in parts))
        case Opt(part=part):
            return _phrases(part)
