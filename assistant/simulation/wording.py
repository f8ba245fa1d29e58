"""How a person words what they call, and how they take a read-back apart."""

import random
import re
from dataclasses import dataclass
from decimal import Decimal

from grammar.meaning import Reading, Shim, Size
from grammar.numerals import number_words
from grammar.parse import parse
from grammar.say import words as plain_words
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME


@dataclass(frozen=True, slots=True)
class Manner:
    """How often the person does what is not the plainest, 0 to 1 each.

    ``name_station``: the station is said though it is known; ``digitwise``: "one five" for
    fifteen; ``point``: "point five" for "and a half"; ``unit``: with the unit; ``affirm``:
    the radio words for yes and no; ``bare``: without its sign; ``slip``: a wrong number;
    ``out_of_order``: another station, by name; ``aside``: "say again" and the like;
    ``shim_called``: "shim three above" for "done"; ``settle``: measures the noise first.
    """

    name_station: float = 0.0
    digitwise: float = 0.0
    point: float = 0.0
    unit: float = 0.0
    affirm: float = 0.0
    bare: float = 0.0
    slip: float = 0.0
    out_of_order: float = 0.0
    aside: float = 0.0
    shim_called: float = 0.0
    settle: float = 0.0


EVERYDAY = Manner(
    name_station=0.5, digitwise=0.25, point=0.4, unit=0.15, affirm=0.4, bare=0.06,
    slip=0.04, out_of_order=0.06, aside=0.03, shim_called=0.3, settle=0.15,
)  # fmt: skip
"""Somebody who knows the words and is not a machine."""


def agree(chance: random.Random, manner: Manner) -> str:
    """Yes, one way or the other."""
    return "affirm" if chance.random() < manner.affirm else "yes"


def refuse(chance: random.Random, manner: Manner) -> str:
    """No, one way or the other."""
    return "negative" if chance.random() < manner.affirm else "no"


OTHER_WORDS = {"yes": "affirm", "affirm": "yes", "no": "negative", "negative": "no"}
"""The same meant in another word, for whoever was not understood."""


def again(meaning: Reading | Shim, correction: bool) -> str:
    """A reading or a shim in its plainest full words."""
    if isinstance(meaning, Shim):
        return plain_words(meaning, Scale())
    number = number_words(meaning.value)
    sign = "minus " if meaning.value < 0 else "plus " if meaning.value else ""
    words = f"{meaning.station} {sign}{number}" if meaning.station else f"{sign}{number}"
    return f"correction {words}" if correction else words


def call(
    reading: Reading, scale: Scale, chance: random.Random, manner: Manner, *, named: bool
) -> str:
    """A reading in words of the language, worded as this person would."""
    named = chance.random() < manner.name_station or named
    digitwise = chance.random() < manner.digitwise and abs(reading.value) >= 10
    bare = chance.random() < manner.bare and reading.value != 0
    number = number_words(reading.value, digitwise=digitwise)
    if chance.random() < manner.point:
        number = _with_point(reading.value, number)
    sign = "" if bare or not reading.value else "minus" if reading.value < 0 else "plus"
    unit = ""
    if chance.random() < manner.unit and reading.value:
        unit = BY_NAME["thou" if scale.system == "thou" else "hundredth"].says[0]
    station = (reading.station or "") if named else ""
    return " ".join(part for part in (station, sign, number, unit) if part)


def _with_point(value: Decimal, number: str) -> str:
    """ "Six and a half" as "six point five"."""
    for phrase, pointed in (
        ("and a half", "point five"),
        ("and a quarter", "point two five"),
        ("and three quarters", "point seven five"),
    ):
        if number.endswith(phrase):
            return number.removesuffix(phrase) + pointed
    return "point five" if abs(value) == Decimal("0.5") else number


def sentences(text: str) -> list[str]:
    """A prompt's sentences, each with its stop."""
    return [part.strip() for part in re.findall(r"[^.?!]+[.?!]", text)]


def read_back(text: str, scale: Scale, *, named: bool = True) -> Reading | Shim | None:
    """What a prompt reads back as kept: the first stated reading or shim, not a question.

    ``named``: a reading counts only with its station.
    """
    for sentence in sentences(text):
        if sentence.endswith("?"):
            continue
        words = sentence.rstrip(".!").lower().replace(" now ", " ")
        if words == "no shim":
            return Shim(Decimal(0))
        meaning = parse(words, scale)
        if isinstance(meaning, Shim):
            return meaning
        if isinstance(meaning, Reading) and (meaning.station is not None) == named:
            return meaning
    return None


def if_sayable(words: str, scale: Scale) -> str:
    """A size that the grammar has words for, else "skip"."""
    size = parse(words.replace("millimetres", "millimeters"), scale)
    sayable = isinstance(size, Reading) or (isinstance(size, Size) and size.value <= 40)
    return words if sayable else "skip"
