"""Number words to exact values and back.

The language is the spoken English of readings: "twelve", "twenty three", digit by digit
("one two"), "and a half", "a quarter", "three quarters", "point five", "decimal two five".
There is no "oh": it slips into everything; one says "zero".
"""

from collections.abc import Iterator
from decimal import Decimal
from functools import cache

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen",
    "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
POINTS = ("point", "decimal")

_TEENS = dict(zip(TEENS[3:], TENS[1:], strict=True))
PAIRS = _TEENS | {ty: teen for teen, ty in _TEENS.items()}
"""Each of thirteen to nineteen and thirty to ninety, and what it is mistaken for."""

_DIGIT = {word: Decimal(value) for value, word in enumerate(DIGITS)}
_BELOW_TWENTY = {word: value for value, word in enumerate(DIGITS + TEENS)}
_TENS = {word: 10 * value for value, word in enumerate(TENS, start=2)}

FRACTIONS: dict[str, Decimal] = {
    "and a half": Decimal("0.5"),
    "and a quarter": Decimal("0.25"),
    "and three quarters": Decimal("0.75"),
}
"""What may follow a whole number."""

PARTS: dict[str, Decimal] = {
    "half": Decimal("0.5"),
    "a half": Decimal("0.5"),
    "a quarter": Decimal("0.25"),
    "three quarters": Decimal("0.75"),
}
"""What may stand alone for less than one."""

LARGEST = 999
"""The largest number that can be called; computed ones may be larger."""

LARGEST_SAID = 999_999


def whole_words(value: int) -> str:
    """The usual words of a whole number from 0 to 999,999, without "and".

    >>> whole_words(23), whole_words(100), whole_words(112), whole_words(2500)
    ('twenty three', 'one hundred', 'one hundred twelve', 'two thousand five hundred')
    """
    if not 0 <= value <= LARGEST_SAID:
        raise ValueError(f"{value} is not between 0 and {LARGEST_SAID}")
    if value < 20:
        return (DIGITS + TEENS)[value]
    if value < 100:
        ten, one = divmod(value, 10)
        return TENS[ten - 2] + (f" {DIGITS[one]}" if one else "")
    if value >= 1000:
        thousand, rest = divmod(value, 1000)
        return f"{whole_words(thousand)} thousand" + (f" {whole_words(rest)}" if rest else "")
    hundred, rest = divmod(value, 100)
    return f"{DIGITS[hundred]} hundred" + (f" {whole_words(rest)}" if rest else "")


def digit_words(value: int) -> str:
    """A whole number digit by digit: 15 is "one five"."""
    return " ".join(DIGITS[int(digit)] for digit in str(value))


def decimal_words(decimals: str) -> str:
    """The digits behind the point, one by one: "25" is "two five"."""
    return " ".join(DIGITS[int(digit)] for digit in decimals)


def number_words(value: Decimal, *, digitwise: bool = False) -> str:
    """Words of a value without sign, the inverse of ``number_value``.

    >>> number_words(Decimal("6.5")), number_words(Decimal("0.25"))
    ('six and a half', 'a quarter')
    >>> number_words(Decimal("15"), digitwise=True)
    'one five'
    """
    value = abs(value)
    whole = int(value)
    part = value - whole
    words = digit_words(whole) if digitwise else whole_words(whole)
    if part == 0:
        return words
    if whole == 0 and not digitwise:
        for phrase, worth in PARTS.items():
            if worth == part and phrase != "a half":
                return phrase
    if not digitwise:
        for phrase, worth in FRACTIONS.items():
            if worth == part:
                return f"{words} {phrase}"
    decimals = format(part.normalize(), "f").split(".")[1]
    return f"{words} point {decimal_words(decimals)}"


@cache
def number_value(words: str) -> Decimal | None:
    """The exact value of number words, or None when they are not one number.

    >>> number_value("twenty three"), number_value("one two"), number_value("twenty twelve")
    (Decimal('23'), Decimal('12'), None)
    """
    if words in PARTS:
        return PARTS[words]
    for phrase, worth in FRACTIONS.items():
        if words.endswith(f" {phrase}"):
            whole = _whole_value(words[: -len(phrase) - 1].split())
            return None if whole is None else whole + worth
    tokens = words.split()
    for index, token in enumerate(tokens):
        if token in POINTS:
            return _pointed_value(tokens[:index], tokens[index + 1 :])
    return _whole_value(tokens)


def _pointed_value(before: list[str], after: list[str]) -> Decimal | None:
    whole = _whole_value(before) if before else Decimal(0)
    if whole is None or not after or any(word not in _DIGIT for word in after):
        return None
    digits = "".join(str(_DIGIT[word]) for word in after)
    return whole + Decimal(f"0.{digits}")


def _whole_value(tokens: list[str]) -> Decimal | None:
    if "thousand" in tokens:
        at = tokens.index("thousand")
        return _thousands(tokens[:at], tokens[at + 1 :])
    if not tokens or len(tokens) > 6:
        return None
    if len(tokens) in (2, 3) and all(token in _DIGIT for token in tokens):
        digits = "".join(str(_DIGIT[token]) for token in tokens)
        return None if tokens[0] == "zero" else Decimal(digits)
    if len(tokens) >= 2 and tokens[1] == "hundred":
        return _hundreds(tokens[0], tokens[2:])
    small = _below_hundred(tokens)
    return None if small is None else Decimal(small)


def _thousands(many: list[str], rest: list[str]) -> Decimal | None:
    above, below = _whole_value(many), _whole_value(rest)
    if not above or (rest and not below) or max(above, below or 0) > LARGEST:
        return None
    return 1000 * above + (below or Decimal(0))


def _hundreds(many: str, rest: list[str]) -> Decimal | None:
    hundreds = 1 if many == "a" else int(_DIGIT.get(many, 0))
    if not hundreds:
        return None
    if not rest:
        return Decimal(100 * hundreds)
    # "Two hundred zero" and "two hundred and" are no numbers.
    last = _below_hundred(rest[1:] if rest[0] == "and" else rest)
    return Decimal(100 * hundreds + last) if last else None


def _below_hundred(tokens: list[str]) -> int | None:
    if len(tokens) == 1:
        return _BELOW_TWENTY.get(tokens[0], _TENS.get(tokens[0]))
    if len(tokens) == 2 and tokens[0] in _TENS:
        one = _BELOW_TWENTY.get(tokens[1], 0)
        return _TENS[tokens[0]] + one if 1 <= one <= 9 else None
    return None


def fraction_phrases(step: Decimal) -> dict[str, Decimal]:
    """The ways to say a part of a count after a whole number, for this finest step.

    Empty when only whole counts are read. Besides halves and quarters, one or two single
    decimals where the step needs them; two alike are never offered for one word.
    """
    phrases = {phrase: worth for phrase, worth in FRACTIONS.items() if worth % step == 0}
    for hundredths in range(1, 100):
        worth = Decimal(hundredths) / 100
        if worth % step == 0:
            decimals = f"{hundredths:02d}".rstrip("0")
            for point in POINTS:
                phrases[f"{point} {decimal_words(decimals)}"] = worth
    return phrases


def part_phrases(step: Decimal) -> dict[str, Decimal]:
    """The ways to say less than one count by itself, for this finest step."""
    alone = {phrase: worth for phrase, worth in PARTS.items() if worth % step == 0}
    pointed = {
        phrase: worth
        for phrase, worth in fraction_phrases(step).items()
        if phrase.split()[0] in POINTS
    }
    return alone | pointed


def whole_phrases(largest: int) -> Iterator[tuple[str, int]]:
    """Every way to say every whole number from 0 to ``largest``."""
    for value in range(largest + 1):
        yield whole_words(value), value
        if value >= 10:
            yield digit_words(value), value
