"""Words that are not ours: those of which talk is made, and those that sound nearly like ours.

Each way to say one, in phones, with the log probability of the word, as ``WordLoop`` takes them.
"""

from importlib import resources

from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary, common_words
from grammar.offer import Offer, everything
from grammar.scale import Scale
from grammar.sentences import sentences, words_of

Ways = list[tuple[list[str], float]]

TALK_WORDS = 1000
"""Words of which talk is made; twice as many told it from calls no better, 300 a little worse."""

DOUBLES_FILE = "doubles.txt"
"""Where the sounds of words that are nearly commands are kept, beside this module."""


def talk_words(dictionary: Dictionary) -> Ways:
    """What is not for us: common words that do not sound like a word of ours."""
    ours = our_sounds(dictionary)
    return [
        (way, chance)
        for chance, ways in common_words(TALK_WORDS)
        for way in ways
        if tuple(way) not in ours
    ]


def double_words() -> Ways:
    """What is nearly a command: "skit", "nest". All are equally likely."""
    listed = resources.files(__package__).joinpath(DOUBLES_FILE).read_text(encoding="utf-8")
    return [(row.split(), 0.0) for row in listed.splitlines()]


def our_sounds(dictionary: Dictionary) -> set[tuple[str, ...]]:
    """Every way to say every word of ours, whatever the scale."""
    offers = [everything(Scale(system, 999)) for system in ("thou", "mm")]
    ours = frozenset().union(
        *(words_of(sentences(offer)) for offer in (*offers, Offer(Scale(), sizes=40)))
    )
    dictionary.teach(ours)
    return {tuple(way.split()) for word in ours for way in dictionary.sounds(word)}
