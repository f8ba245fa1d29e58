"""The language of a tree of sentences: what belongs to it, and random sentences of it."""

import random
import re
from functools import lru_cache

from grammar.sentences import Alt, Node, Opt, Seq


@lru_cache(64)
def acceptor(node: Node) -> re.Pattern[str]:
    """A pattern that fully matches a sentence with a space before every word."""
    return re.compile(_pattern(node))


def _pattern(node: Node) -> str:
    match node:
        case str():
            return "".join(f" {re.escape(word)}" for word in node.split())
        case Seq(parts=parts):
            return "".join(_pattern(part) for part in parts)
        case Alt(choices=choices):
            return "(?:" + "|".join(_pattern(choice) for choice in choices) + ")"
        case Opt(part=part):
            return f"(?:{_pattern(part)})?"


def accepts(node: Node, words: str) -> bool:
    """Tell whether these words are one of the tree's sentences."""
    spoken = "".join(f" {word}" for word in words.split())
    return acceptor(node).fullmatch(spoken) is not None


def sample(node: Node, chance: random.Random) -> str:
    """One sentence of the tree, drawn with this generator."""
    match node:
        case str():
            return node
        case Seq(parts=parts):
            drawn = (sample(part, chance) for part in parts)
            return " ".join(text for text in drawn if text)
        case Alt(choices=choices):
            return sample(chance.choice(choices), chance)
        case Opt(part=part):
            return sample(part, chance) if chance.random() < 0.5 else ""
