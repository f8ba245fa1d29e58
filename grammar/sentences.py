"""The sentences of an offer as a small tree, from which every compiled form is made.

A node is a phrase (``str``), a sequence, a choice or an option. What recognisers search and their
word lists come from the same tree, so they cannot disagree.
"""

from dataclasses import dataclass
from decimal import Decimal

from grammar.numerals import (
    DIGITS,
    LARGEST,
    POINTS,
    TENS,
    fraction_phrases,
    part_phrases,
    whole_phrases,
    whole_words,
)
from grammar.offer import MOST_TOLERANCE, Offer
from grammar.parse import reading_units
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, STATIONS


@dataclass(frozen=True, slots=True)
class Seq:
    """One after the other."""

    parts: tuple["Node", ...]


@dataclass(frozen=True, slots=True)
class Alt:
    """One of these; ``name`` makes it a rule of its own in a compiled grammar."""

    choices: tuple["Node", ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class Opt:
    """This or nothing."""

    part: "Node"


Node = str | Seq | Alt | Opt


def sentences(offer: Offer) -> Alt:
    """The tree of everything that this offer listens for."""
    choices: list[Node] = []
    commands = [*offer.commands, *offer.instead]
    if offer.readings:
        choices.append(reading(offer))
    if commands:
        choices.append(phrase_choice("command", [p for n in commands for p in BY_NAME[n].says]))
    if offer.signs:
        choices.append(_sign())
    if offer.sides:
        choices.append(_stations("side"))
    if offer.shim:
        called: list[Node] = ["shim", _number(offer, offer.scale, "shim")]
        if offer.shim_places:
            called.append(Opt(phrase_choice("place", ["above", "below"])))
        choices.append(Seq(tuple(called)))
    if offer.sizes:
        choices.append(_size(offer.sizes))
    if offer.changes:
        choices.append(_tolerance(offer))
        choices.append(Seq(("sweep", _size(offer.changes))))
    if not choices:
        raise ValueError("an offer with nothing in it cannot be listened for")
    return Alt(tuple(choices), "utterance")


def phrase_choice(name: str, phrases: list[str]) -> Alt:
    """One of these phrases, as a named rule."""
    return Alt(tuple(phrases), name)


def reading(offer: Offer) -> Node:
    """``[correction] [station] [sign] number [unit]``."""
    parts: list[Node] = []
    if "correction" in offer.commands:
        parts.append(Opt("correction"))
    if offer.stations:
        parts.append(Opt(_stations("station")))
    if offer.signed:
        parts.append(Opt(_sign()))
    if offer.turn:
        # The number of a whole turn is not on the face: zero stands there.
        face = Scale(offer.scale.system, offer.turn, offer.scale.step)
        parts.append(_number(offer, face, "reading", top=False))
    else:
        parts.append(_number(offer, offer.scale, "reading"))
    return Seq(tuple(parts))


def _stations(name: str) -> Alt:
    return phrase_choice(name, [phrase for each in STATIONS for phrase in BY_NAME[each].says])


def _sign() -> Alt:
    return phrase_choice("sign", [*BY_NAME["plus"].says, *BY_NAME["minus"].says])


def _wholes(low: int, high: int) -> list[Node]:
    """Whole numbers in full words, tens factored out so that the grammar stays small."""
    if low <= 0 and high >= 99:
        digit = phrase_choice("ones", list(DIGITS[1:]))
        below: list[Node] = [whole_words(value) for value in range(20)]
        below += [Seq((ten, Opt(digit))) for ten in TENS]
        return below + [whole_words(value) for value in range(100, high + 1)]
    return [whole_words(value) for value in range(low, high + 1)]


def _digitwise(high: int) -> list[Node]:
    found = [phrase for phrase, value in whole_phrases(high) if value >= 10]
    plain = {whole_words(value) for value in range(high + 1)}
    return [phrase for phrase in found if phrase not in plain]


def _number(offer: Offer, scale: Scale, name: str, *, top: bool = True) -> Alt:
    """Every number that this dial can show, with its units; the reach itself if ``top``."""
    units = reading_units(scale)
    plain_units = [p for n in units if n not in ("tenth", "um") for p in BY_NAME[n].says]
    unit = phrase_choice("unit", plain_units)
    below_top: list[Node] = [*_wholes(0, scale.reach - 1), *_digitwise(scale.reach - 1)]
    forms: list[Node] = []
    if top:
        highest = [p for p, value in whole_phrases(scale.reach) if value == scale.reach]
        forms.append(Seq((phrase_choice(f"{name}_top", highest), Opt(unit))))
    forms.append(Seq((_with_fraction(below_top, scale, name, top), Opt(unit))))
    parts = _parts_alone(scale)
    if parts:
        named = Seq((Opt("of"), Opt("a"), unit)) if scale.system == "thou" else unit
        forms.append(Seq((phrase_choice("part", parts), Opt(named))))
    if "um" in units:
        forms.append(_microns(scale, f"{name}_um", top))
        forms.append(phrase_choice(f"{name}_mm", metric_pointed(scale, top)))
    tenths = [DIGITS[n] for n in range(1, 10) if _tenths_offered(offer, scale, n, top)]
    if tenths:
        tenth_words = phrase_choice("tenth_unit", list(BY_NAME["tenth"].says))
        forms.append(Seq((phrase_choice("tenth", tenths), tenth_words)))
    return Alt(tuple(forms), f"{name}_number")


def _with_fraction(wholes: list[Node], scale: Scale, name: str, top: bool) -> Node:
    """These whole numbers, zero first, and parts of a count after them."""
    fractions = fraction_phrases(scale.step)
    if not fractions:
        return Alt(tuple(wholes), f"{name}_whole")
    part = phrase_choice("fraction", list(fractions))
    if scale.system == "thou":
        return Seq((Alt(tuple(wholes), f"{name}_whole"), Opt(part)))
    # "Zero point five" is half a millimetre, as on a drawing: not every dial goes that far.
    after_zero = [
        phrase
        for phrase, worth in fractions.items()
        if phrase.split()[0] not in POINTS or _within(worth * 100, scale, top)
    ]
    zero = Seq((wholes[0], Opt(phrase_choice("zero_fraction", after_zero))))
    if not wholes[1:]:
        return zero
    return Alt((zero, Seq((Alt(tuple(wholes[1:]), f"{name}_whole"), Opt(part)))))


def _within(counts: Decimal, scale: Scale, top: bool) -> bool:
    return counts <= scale.reach if top else counts < scale.reach


def _tenths_offered(offer: Offer, scale: Scale, tenths: int, top: bool) -> bool:
    # A tenth of a millimetre is ten counts: any dial shows it, as far as it goes.
    counts = Decimal(tenths) / 10 if scale.system == "thou" else Decimal(tenths) * 10
    return _within(counts, scale, top) and (offer.any_tenths or scale.shows(counts))


def _parts_alone(scale: Scale) -> list[str]:
    parts = part_phrases(scale.step)
    if scale.system == "mm":
        # From the point on, a metric reading is in millimetres: see ``metric_pointed``.
        return [phrase for phrase in parts if phrase.split()[0] not in POINTS]
    return list(parts)


def metric_pointed(scale: Scale, top: bool = True) -> list[str]:
    """Readings of whole hundredths in millimetres from the point on: "point zero four"."""
    return [
        f"{point} {DIGITS[value // 10]} {DIGITS[value % 10]}"
        for value in range(1, min(scale.reach if top else scale.reach - 1, 99) + 1)
        for point in POINTS
    ]


def _microns(scale: Scale, name: str, top: bool) -> Node:
    step = scale.step * 10
    most = 10 * scale.reach if top else 10 * scale.reach - 1
    values = (Decimal(count) for count in range(1, min(most, LARGEST) + 1))
    whole = [whole_words(int(value)) for value in values if value % step == 0]
    return Seq((phrase_choice(name, whole), phrase_choice("micron", list(BY_NAME["um"].says))))


def _size(largest: int) -> Node:
    """Whole numbers from 1, beyond a hundred in fives; a unit if one likes."""
    beyond = [whole_words(value) for value in range(105, largest, 5)]
    below = [*_wholes(1, min(largest - 1, 100)), *beyond]
    units = [*BY_NAME["in"].says, *BY_NAME["mm"].says]
    unit = Opt(phrase_choice("size_unit", units))
    return Seq((_up_to(below, largest, "size", ["and a half", "and a quarter"]), unit))


def _up_to(below: list[Node], largest: int, name: str, fractions: list[str]) -> Node:
    """These whole numbers and parts after them; the largest one stands alone."""
    fraction = Opt(phrase_choice(f"{name}_fraction", fractions))
    return Alt((whole_words(largest), Seq((Alt(tuple(below), f"{name}_whole"), fraction))))


def _tolerance(offer: Offer) -> Node:
    """Whole counts and halves, the counts of the dial behind them if one likes."""
    number = _up_to(_wholes(1, MOST_TOLERANCE - 1), MOST_TOLERANCE, "tolerance", ["and a half"])
    plain = [name for name in reading_units(offer.scale) if name in ("thou", "hundredth")]
    units = [phrase for name in plain for phrase in BY_NAME[name].says]
    return Seq(("tolerance", number, Opt(phrase_choice("tolerance_unit", units))))


def words_of(node: Node) -> frozenset[str]:
    """Every single word that occurs in the sentences of this tree."""
    match node:
        case str():
            return frozenset(node.split())
        case Seq(parts=parts) | Alt(choices=parts):
            return frozenset().union(*(words_of(part) for part in parts))
        case Opt(part=part):
            return words_of(part)
