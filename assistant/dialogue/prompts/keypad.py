"""Prompts for whoever works by the keypad: its keys, as they are spoken."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from grammar.numerals import number_words

KEYS: Final[dict[str, str]] = {
    "enter": "enter", "-": "minus", "+": "plus", "*": "star", "/": "slash",
}  # fmt: skip
"""The keys that are no digits."""


def can_press(keys: Sequence[tuple[str, str]], number: bool) -> str:
    """Help: keys as they are pressed, and what they mean."""
    listed = ["number and enter"] if number else []
    listed += [f"{_key_words(key)} {means}" for key, means in keys]
    told = ", ".join(listed)
    return f"{told[:1].upper()}{told[1:]}."


def _key_words(key: str) -> str:
    if key in KEYS:
        return KEYS[key]
    return " ".join(KEYS.get(part) or number_words(Decimal(part)) for part in key)
