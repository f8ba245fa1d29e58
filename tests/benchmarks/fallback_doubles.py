"""The words that sound nearly like a command, found in the embedded recogniser's dictionary.

``python -m tests.benchmarks.fallback_doubles`` lists them again, after commands got other words.
"""

from collections.abc import Sequence
from itertools import islice
from pathlib import Path

from assistant.devices.ears.fallback import other_words
from assistant.devices.ears.fallback.other_words import DOUBLES_FILE, our_sounds
from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary, common_words
from grammar.vocabulary import BY_NAME, COMMANDS

DOUBLES = 24
"""At most so many words that sound nearly like one way to say a command: the nearest, commonest."""

KNOWN, RAREST = 60_000, -16.0
"""Among how many words those are looked for, and the log probability of the rarest."""

LONG, ONE_SLIP, TWO_SLIPS = 5, 1, 2
"""Phones from which on a word has its doubles two phones away, and those distances."""


def look_for_doubles() -> list[str]:
    """The rows of that file, from the library's dictionary and our vocabulary."""
    dictionary = Dictionary()
    ours = our_sounds(dictionary)
    # "Again" and "ahead" alone are taken for the commands that end with them.
    alone = {way.split()[-1] for name in COMMANDS for way in BY_NAME[name].says} - {"by"}
    every = [
        (tuple(way), frozenset(way))
        for chance, ways in common_words(KNOWN)
        if chance > RAREST
        for way in ways
        if tuple(way) not in ours
    ]
    found: set[tuple[str, ...]] = set()
    for sounds in sorted({tuple(way.split()) for word in alone for way in dictionary.sounds(word)}):
        phones = frozenset(sounds)
        # A slip brings in one new phone at most, and drops one at most.
        alike = (
            way
            for way, theirs in every
            if len(theirs - phones) <= TWO_SLIPS and len(phones - theirs) <= TWO_SLIPS
        )
        distances = [(_slips(way, sounds), way) for way in alike]
        slips = range(1, (ONE_SLIP if len(sounds) < LONG else TWO_SLIPS) + 1)
        near = (way for wanted in slips for distance, way in distances if distance == wanted)
        found |= set(islice(near, DOUBLES))
    return sorted(" ".join(way) for way in found)


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


if __name__ == "__main__":
    listed = "".join(f"{sounds}\n" for sounds in look_for_doubles())
    (Path(other_words.__file__).parent / DOUBLES_FILE).write_text(listed, encoding="utf-8")
