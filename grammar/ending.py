"""Whether what was said can go on: after some sentences nothing more can follow.

Only words against an offer's tree. How long to wait for more is the endpointer's business.
"""

from functools import lru_cache

from grammar.offer import Offer
from grammar.sentences import Alt, Node, Opt, Seq, sentences


def is_over(words: str, offer: Offer) -> bool:
    """Tell whether these words are a sentence of the offer that no longer one begins with.

    >>> from grammar.scale import Scale
    >>> offer = Offer(Scale(), ("yes",), readings=True)
    >>> [is_over(words, offer) for words in ("yes", "plus six", "plus six thou", "plus")]
    [True, False, True, False]
    """
    spoken = words.split()
    ends = _ends(_tree(offer), spoken, frozenset({0}))
    return len(spoken) in ends and len(spoken) + 1 not in ends


@lru_cache(maxsize=16)
def _tree(offer: Offer) -> Alt:
    """Made once for each offer: it may hold a thousand numbers."""
    return sentences(offer)


def _ends(node: Node, spoken: list[str], starts: frozenset[int]) -> frozenset[int]:
    """How many of the words are used up after this node, in every way to go through it.

    One more than there are means that all were used and others are wanted.
    """
    match node:
        case str():
            phrase = node.split()
            return frozenset(end for at in starts if (end := _after(phrase, spoken, at)))
        case Seq(parts=parts):
            for part in parts:
                starts = _ends(part, spoken, starts) if starts else starts
            return starts
        case Alt(choices=choices):
            return frozenset().union(*(_ends(choice, spoken, starts) for choice in choices))
        case Opt(part=part):
            return starts | _ends(part, spoken, starts)


def _after(phrase: list[str], spoken: list[str], at: int) -> int:
    """Where this phrase ends that begins at word ``at``; 0 where others are spoken."""
    beyond = len(spoken) + 1
    if at == beyond:
        return beyond
    said = spoken[at : at + len(phrase)]
    if said != phrase[: len(said)]:
        return 0
    return at + len(phrase) if len(said) == len(phrase) else beyond
