"""Words that are not ours: those of which talk is made, and those that sound nearly like ours.

Each way to say one, in phones, with the log probability of the word, as ``WordLoop`` takes them.
"""

from collections.abc import Sequence
from importlib import resources
from itertools import islice

from assistant.devices.fallback.pocketsphinx_library import SafeDecoder, common_words
from grammar.offer import Offer, everything
from grammar.scale import Scale
from grammar.sentences import sentences, words_of
from grammar.vocabulary import BY_NAME, COMMANDS

Ways = list[tuple[list[str], float]]

TALK_WORDS = 1000
"""Words of which talk is made; twice as many told it from calls no better, 300 a little worse."""

DOUBLES = 24
"""At most so many words that sound nearly like one way to say a command: the nearest, commonest."""

KNOWN, RAREST = 60_000, -16.0
"""Among how many words those are looked for, and the log probability of the rarest."""

LONG, ONE_SLIP, TWO_SLIPS = 5, 1, 2
"""Phones from which on a word has its doubles two phones away, and those distances."""

DOUBLES_FILE = "doubles.txt"
"""Where their sounds are kept, beside this module: to find them takes seconds."""


def talk_words(dictionary: SafeDecoder) -> Ways:
    """What is not for us: common words that do not sound like a word of ours."""
    ours = _our_sounds(dictionary)
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


def look_for_doubles() -> list[str]:
    """The rows of that file, from the library's dictionary and our vocabulary."""
    dictionary = SafeDecoder()
    ours = _our_sounds(dictionary)
    # "Again" and "ahead" alone are taken for the commands that end with them.
    alone = {way.split()[-1] for name in COMMANDS for way in BY_NAME[name].says} - {"by"}
    every = [
        tuple(way)
        for chance, ways in common_words(KNOWN)
        if chance > RAREST
        for way in ways
        if tuple(way) not in ours
    ]
    found: set[tuple[str, ...]] = set()
    for sounds in sorted({tuple(way.split()) for word in alone for way in dictionary.sounds(word)}):
        distances = [(_slips(way, sounds), way) for way in every]
        slips = range(1, (ONE_SLIP if len(sounds) < LONG else TWO_SLIPS) + 1)
        near = (way for wanted in slips for distance, way in distances if distance == wanted)
        found |= set(islice(near, DOUBLES))
    return sorted(" ".join(way) for way in found)


def _our_sounds(dictionary: SafeDecoder) -> set[tuple[str, ...]]:
    """Every way to say every word of ours, whatever the scale."""
    offers = [everything(Scale(system, 999)) for system in ("thou", "mm")]
    ours = frozenset().union(
        *(words_of(sentences(offer)) for offer in (*offers, Offer(Scale(), sizes=40)))
    )
    dictionary.teach(ours)
    return {tuple(way.split()) for word in ours for way in dictionary.sounds(word)}


def _slips(one: Sequence[str], other: Sequence[str]) -> int:
    """How many phones are changed, put in or left out between two (V. I. Levenshtein, 1966)."""
    if abs(len(one) - len(other)) > TWO_SLIPS:
        return TWO_SLIPS + 1
    row = list(range(len(other) + 1))
    for at, sound in enumerate(one, 1):
        corner, row[0] = row[0], at
        for to, wanted in enumerate(other, 1):
            changed = corner + (sound != wanted)
            corner, row[to] = row[to], min(row[to] + 1, row[to - 1] + 1, changed)
    return row[-1]
