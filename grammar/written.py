"""From what a general recogniser writes to the words of the language, and back.

A general recogniser knows nothing of this language: it writes "Left, +6.5 though." for
"left plus six and a half thou". ``as_spoken`` turns its text into words that ``parse`` takes;
``wide_sentences`` is the tree of everything that it may write for an offer, numbers that the
dial cannot show included, so that those are found and not taken for others.

The leaves of that tree are words and figures. A leaf that begins with ``GLUED`` follows what
stands before it without a space.
"""

import re

from grammar.numerals import (
    DIGITS,
    FRACTIONS,
    PARTS,
    POINTS,
    TEENS,
    TENS,
    decimal_words,
    whole_words,
)
from grammar.offer import MOST_TOLERANCE, Offer
from grammar.parse import reading_units
from grammar.sentences import Alt, Node, Opt, Seq, phrase_choice, sentences
from grammar.vocabulary import BY_NAME, STATIONS, WRITTEN

GLUED = "\N{WORD JOINER}"
"""Begins a leaf that is written without a space before it."""

_FIGURES = tuple(str(digit) for digit in range(10))
_SAME_SOUND = {
    other: word for word, others in WRITTEN.items() for other in others if " " not in other
}
_TWO_WORDS = {other: word for word, others in WRITTEN.items() for other in others if " " in other}


def as_spoken(text: str) -> str:
    """The words of a text: no capitals, no punctuation, signs and homophones in our words.

    >>> as_spoken("Left, +6.5 though."), as_spoken("Front minus twenty-three, for.")
    ('left plus 6.5 thou', 'front minus twenty three four')
    """
    plain = text.lower().replace("\N{MINUS SIGN}", "-")
    plain = re.sub(r"(\d),000\b", r"\1 thousand", plain)
    plain = re.sub(r"\.(?!\d)|[,!?;:]", " ", plain)
    plain = re.sub(r"(?<=[a-z0-9])-(?=[a-z0-9])", " ", plain)
    plain = re.sub(r"(?:^|(?<=\s))\+", " plus ", plain)
    plain = re.sub(r"(?:^|(?<=\s))-(?=[\d.])", " minus ", plain)
    plain = " ".join(plain.replace("-", " ").split())
    for written, word in _TWO_WORDS.items():
        plain = re.sub(rf"\b{re.escape(written)}(?=\s|$)", word, plain)
    words = [_SAME_SOUND.get(word, word) for word in plain.split()]
    return " ".join(
        _in_words(word, words[index - 1] if index else "") for index, word in enumerate(words)
    )


def _in_words(word: str, before: str) -> str:
    """A whole number in figures as words; after a point, and after a zero, digit by digit."""
    if not re.fullmatch(r"[0-9]{1,3}", word):
        return word
    one_by_one = before in POINTS or (word[0] == "0" and len(word) > 1)
    return decimal_words(word) if one_by_one else whole_words(int(word))


def wide_sentences(offer: Offer) -> Alt:
    """Everything that may be written for this offer, and numbers that its dial cannot show."""
    choices: list[Node] = [sentences(offer)]
    units = [phrase for name in reading_units(offer.scale) for phrase in BY_NAME[name].says]
    reach = max(offer.scale.reach, offer.turn)
    unit = Opt(Seq((Opt("of"), Opt("a"), phrase_choice("unit", units))))
    if offer.readings:
        before: list[Node] = [Opt("correction")] if "correction" in offer.commands else []
        if offer.stations:
            before.append(Opt(_stations()))
        sign = [Opt(phrase_choice("sign", ["plus", "minus"]))] if offer.signed else []
        choices.append(Seq((*before, *sign, Alt((spoken_number(reach), figures(reach))), unit)))
        if offer.signed:
            choices.append(
                Seq((*before, phrase_choice("mark", ["+", "-"]), figures(reach, GLUED), unit))
            )
    if offer.shim:
        shim: list[Node] = ["shim", Alt((spoken_number(reach), figures(reach))), unit]
        if offer.shim_places:
            shim.append(Opt(phrase_choice("place", ["above", "below"])))
        choices.append(Seq(tuple(shim)))
    if offer.changes:
        choices.append(Seq(("tolerance", figures(MOST_TOLERANCE), unit)))
        size_units = [*BY_NAME["in"].says, *BY_NAME["mm"].says]
        size_unit = Opt(phrase_choice("sweep_unit", size_units))
        choices.append(Seq(("sweep", figures(offer.changes), size_unit)))
    if offer.sizes:
        size_units = [*BY_NAME["in"].says, *BY_NAME["mm"].says]
        choices.append(Seq((figures(offer.sizes), Opt(phrase_choice("size_unit", size_units)))))
    return Alt(tuple(choices), "written")


def beginnings(offer: Offer) -> Node | None:
    """What somebody says who pauses before the number: a station, a sign, or both."""
    if not offer.readings:
        return None
    sign = phrase_choice("sign", ["plus", "minus"])
    if not offer.stations:
        return sign if offer.signed else None
    named: Node = Seq((_stations(), Opt(sign))) if offer.signed else _stations()
    return Alt((named, sign)) if offer.signed and not offer.signs else named


def _stations() -> Alt:
    return phrase_choice("station", [phrase for each in STATIONS for phrase in BY_NAME[each].says])


def spoken_number(reach: int) -> Node:
    """Any number in words up to the next hundred but one: halves, quarters, decimals too.

    Every sentence of it means a number to ``number_value``. Hundreds that are further off are
    left out: nobody reads them from this dial, and they would be found in other words.
    """
    ones, digit = phrase_choice("ones", list(DIGITS[1:])), phrase_choice("digit", list(DIGITS))
    tens = Seq((phrase_choice("tens", list(TENS)), Opt(ones)))
    small = Alt((*DIGITS[1:], *TEENS, tens))
    count = Alt((*DIGITS[1 : _hundreds(reach) + 1], "a"))
    hundreds = Seq((count, "hundred", Opt(Seq((Opt("and"), small)))))
    digits = Seq((ones, digit, Opt(digit))) if reach >= 100 else Seq((ones, digit))
    whole = Alt(("zero", small, hundreds, digits))
    point = phrase_choice("point", list(POINTS))
    decimals = Seq((point, digit, Opt(digit)))
    parts = Alt((*FRACTIONS, decimals))
    return Alt((Seq((whole, Opt(parts))), decimals, *PARTS))


def figures(reach: int, start: str = "") -> Node:
    """The same numbers in figures, with a fraction in figures or words."""
    more = Alt(tuple(GLUED + figure for figure in _FIGURES))
    below_hundred = Seq((Alt(tuple(start + figure for figure in _FIGURES[1:])), Opt(more)))
    first = Alt(tuple(start + figure for figure in _FIGURES[1 : _hundreds(reach) + 1]))
    whole = Alt((start + "0", below_hundred, Seq((first, more, more))))
    decimals = Seq((GLUED + ".", more, Opt(more)))
    words = Seq((phrase_choice("point", list(POINTS)), Alt(_FIGURES), Opt(more)))
    after = Alt((decimals, words, *FRACTIONS))
    return Alt((Seq((whole, Opt(after))), Seq((start + ".", more, Opt(more)))))


def _hundreds(reach: int) -> int:
    """How many hundreds a number has at most."""
    return min(9, reach // 100 + 1)


def is_figure(leaf: str) -> bool:
    """Tell whether a leaf is a figure or a mark rather than a word."""
    return not leaf.lstrip(GLUED)[:1].isalpha()
