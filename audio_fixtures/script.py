"""What the voices read: whole sentences of the grammar, and where each is kept.

The lists are made from the vocabulary, so that a new word is read at the next run of
``make_fixtures``. Together they hold every word of the grammar where it can stand in a
sentence: first, inside, and last, since a voice says a last word longer and lower.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from grammar.numerals import DIGITS, TENS, digit_words, whole_words
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, COMMANDS, STATIONS

STEP = Decimal("0.25")


@dataclass(frozen=True, slots=True)
class Part:
    """One file of a voice.

    ``folder``: where it is kept, empty for the top. ``scale``: the dial at which its
    sentences are readings; the folders other than the top need it as options of ``hear``.
    ``heard``: False when the sentences answer a single question and ``hear``, which
    listens for readings and commands, does not offer them.
    """

    name: str
    folder: str
    scale: Scale
    heard: bool
    sentences: tuple[str, ...]


def parts() -> tuple[Part, ...]:
    """Every file of one voice."""
    plain = Scale("thou", 30, STEP)
    return (
        Part("calls", "", plain, True, tuple(_calls())),
        Part("numbers", "", plain, True, tuple(_numbers())),
        Part("commands", "", plain, True, tuple(_commands())),
        Part("wide", "wide", Scale("thou", 99, STEP), True, tuple(_wide())),
        Part("metric", "metric", Scale("mm", 30, STEP), True, tuple(_metric())),
        Part("answers", "answers", plain, False, tuple(_answers())),
    )


def _calls() -> Iterator[str]:
    """Readings as they are called: station, sign, number, part."""
    stations = [phrase for name in STATIONS for phrase in BY_NAME[name].says[:1]]
    signs = ("plus", "minus")
    for value in range(1, 31):
        yield f"{stations[value % 4]} plus {whole_words(value)}"
        if value <= 12 or value % 5 == 0:
            yield f"{stations[(value + 2) % 4]} minus {whole_words(value)}"
    parts_said = ("and a half", "and a quarter", "and a half", "and three quarters")
    for value in range(1, 30):
        station = stations[(value + value // 4) % 4]
        yield f"{station} {signs[value % 2]} {whole_words(value)} {parts_said[value % 4]}"
    for station in stations:
        yield f"{station} zero"
    for value in (2, 4, 6, 11, 13, 24):
        yield f"{signs[value // 2 % 2]} {whole_words(value)}"
    yield from ("zero", "plus five and a half", "minus nine and a half")
    yield from ("rear plus eight", "rear minus three", "rear zero")
    yield from ("front plus half", "minus half", "back minus a quarter", "plus a quarter")
    yield from ("left plus three quarters", "minus three quarters", "right minus a half")
    yield from ("correction front plus seven", "correction minus four", "correction left zero")
    yield from ("correction plus nine and a half", "correction back minus twelve")


def _numbers() -> Iterator[str]:
    """Digit by digit, decimals, units, and numbers by themselves."""
    for value in range(10, 30):
        if value < 20 or value in (20, 21, 25, 26):
            yield f"{'plus' if value % 2 else 'minus'} {digit_words(value)}"
    yield "three zero"
    for digit in range(1, 10):
        point = "point" if digit % 3 else "decimal"
        yield f"{'minus' if digit % 2 else 'plus'} {DIGITS[digit]} {point} five"
    yield from ("plus two point two five", "minus four point seven five", "plus point five")
    yield from ("minus point two five", "front plus decimal seven five", "six decimal two five")
    yield from ("plus zero point five", "plus twelve point five", "left minus one eight point five")
    yield from ("minus zero decimal two five", "one zero decimal seven five")
    counts = {"thou": ("three", "half a"), "tenth": ("six", "one")}
    for name, (many, few) in counts.items():
        for unit in BY_NAME[name].says:
            yield f"plus {few if unit.endswith('th') else many} {unit}"
    yield from ("front plus two and a half thou", "minus one and three quarters thousandths")
    yield from ("back minus two tenths", "plus half of a thou", "minus a quarter of a thou")
    yield from ("plus seven and a quarter thou", "half a thou", "three quarters of a thou")
    yield from ("nine", "fourteen", "front eight", "two and a half", "left twenty two")
    yield from ("correction five thou", "right seventeen and a half", "twelve thousandths")


def _commands() -> Iterator[str]:
    """Every phrase of every command, and the shim that is in."""
    for name in COMMANDS:
        yield from BY_NAME[name].says
    yield from ("shim three above", "shim two and a half below", "shim four", "shim twelve above")
    yield from ("shim one and a half thou above", "shim seven and three quarters below")
    yield from ("shim six thou", "shim ten and a quarter above", "shim twenty one below")
    yield from ("shim point five above", "shim half a thou below")


def _wide() -> Iterator[str]:
    """Numbers of a dial that goes to 99."""
    for index, ten in enumerate(TENS):
        sign = "minus" if index % 2 else "plus"
        yield f"{sign} {ten}"
        yield f"{'plus' if index % 2 else 'minus'} {ten} {DIGITS[index + 1]}"
    yield from ("front plus forty two and a half", "right minus ninety nine")


def _metric() -> Iterator[str]:
    """Hundredths of a millimetre, microns, tenths of a millimetre, millimetres as decimals."""
    counts = {"hundredth": ("three", "one"), "um": ("forty", "five"), "tenth": ("two", "one")}
    for name, (many, few) in counts.items():
        several, *single = BY_NAME[name].says
        yield f"plus {many} {several}"
        yield from (f"minus {few} {unit}" for unit in single)
    yield from ("front plus six hundredths", "back minus twelve and a half hundredths")
    yield from ("left plus point zero four", "minus decimal two zero", "plus point one six")
    yield from ("plus one hundred twenty microns", "minus two hundred microns")
    yield from ("right plus sixty microns", "minus one hundred microns")


def _answers() -> Iterator[str]:
    """What answers one question of the setting up or of a doubt."""
    yield from ("plus", "minus")
    for index, unit in enumerate([p for n in ("in", "mm") for p in BY_NAME[n].says]):
        yield f"{('ten', 'one', 'forty', 'two')[index]} {unit}"
    yield from ("eight and a half inches", "six and a quarter inches")
