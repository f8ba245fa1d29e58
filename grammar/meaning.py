"""What an utterance can mean: one closed union, ``Meaning``."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from grammar.vocabulary import Station

Place = Literal["above", "below"]
SignName = Literal["plus", "minus"]
OffScaleReason = Literal["finer", "beyond"]


@dataclass(frozen=True, slots=True)
class Reading:
    """A called number.

    ``value``: exact, in counts of the job's scale (thou, or hundredths of a millimetre);
    negative only when "minus" was said. ``signed``: a sign was said, or the value is zero.
    ``unit``: the unit's name in the vocabulary when one was said.
    ``doubtful_unit``: the unit means different things to different ears ("tenths").
    """

    value: Decimal
    signed: bool
    station: Station | None = None
    unit: str | None = None
    correction: bool = False
    doubtful_unit: bool = False


@dataclass(frozen=True, slots=True)
class Command:
    """A command, by its name in the vocabulary."""

    name: str


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign alone: the answer to "plus or minus six?"."""

    name: SignName


@dataclass(frozen=True, slots=True)
class Side:
    """A station alone: the answer to "which side?"."""

    station: Station


@dataclass(frozen=True, slots=True)
class Shim:
    """The shim that is in: its total in counts and on which side of the bolt.

    ``doubtful_unit``: it may have been meant in millimetres ("one point five").
    """

    total: Decimal
    place: Place | None = None
    doubtful_unit: bool = False


@dataclass(frozen=True, slots=True)
class Size:
    """A size with its unit ("ten inches"), for setting up."""

    value: Decimal
    unit: Literal["in", "mm"]


@dataclass(frozen=True, slots=True)
class OffScale:
    """A called number that the dial cannot show.

    ``value``: in counts, negative only when "minus" was said. ``reason``: "finer" than the
    dial's step, or "beyond" its reach. ``signed``, ``station``: as in ``Reading``.
    """

    value: Decimal
    reason: OffScaleReason
    signed: bool
    station: Station | None = None


WishName = Literal["tolerance", "sweep", "what was", "take back", "note"]


@dataclass(frozen=True, slots=True)
class Wish:
    """Something that is asked for at any time and says of what.

    ``value``: a tolerance in counts of the scale, a sweep diameter in ``unit``, how many
    readings are taken back. ``station``: whose reading is wanted. ``text``: of a note.
    """

    name: WishName
    value: Decimal | None = None
    unit: Literal["in", "mm"] | None = None
    station: Station | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Unclear:
    """Words that mean nothing here; they are kept so that they can be shown."""

    words: str


Meaning = Reading | Command | Sign | Side | Shim | Size | OffScale | Wish | Unclear


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One way that an utterance may have been meant.

    ``confidence``: 0 to 1, comparable between the hypotheses of one utterance.
    """

    words: str
    meaning: Meaning
    confidence: float
