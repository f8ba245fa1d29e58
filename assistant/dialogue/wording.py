"""Words that several procedures speak: numbers, stations, the record, and what is said any time.

A prompt asks one thing and is rarely over eight words. Numbers come from ``grammar.say``
only, in counts of the job's scale, so that what is spoken can be parsed again. The words of
one procedure stand with it.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from assistant.dialogue.messages import Channel
from assistant.dialogue.spoken import spoken
from grammar.numerals import number_words
from grammar.say import Way, signed_words, value_words
from grammar.vocabulary import Station

# -- readings ----------------------------------------------------------------------------
TOO_SMALL: Final = "It must be above zero."  # a size or tolerance of zero
TOO_LITTLE: Final = "That is too small."  # below what can be swept or read
TOO_LARGE: Final = "That is too large."  # beyond what a machine or a dial can have


@spoken
def noted(value: Decimal, way: Way = "signed") -> str:
    """Read a noise reading back."""
    return f"{value_words(value, way).capitalize()}."


@spoken
def noted_now(value: Decimal, way: Way = "signed") -> str:
    """The last noise reading is replaced."""
    return f"Now {value_words(value, way)}."


@spoken
def call(station: Station) -> str:
    """Ask for a station's reading."""
    return f"{station.capitalize()}?"


@spoken
def call_again(station: Station) -> str:
    """Ask for a station a second time: to close the sweep, or because it did not fit."""
    return f"{station.capitalize()} again?"


@spoken
def reading(station: Station, value: Decimal, way: Way = "signed") -> str:
    """Read a value back with station, sign and number."""
    return f"{station.capitalize()} {value_words(value, way)}."


@spoken
def watch_this(watch: Station) -> str:
    """Another station was called while tapping."""
    return f"Watch the {watch} now."


@spoken
def taken_back(station: Station) -> str:
    """After "disregard"."""
    return f"{station.capitalize()} taken back."


NOT_WHILE_LOOSE: Final = "Not while it is loose."  # a reading was called while something is loose
NOT_ZEROED: Final = "Not zeroed yet."  # a reading was called before the dial was zeroed


@spoken
def not_now(words: str) -> str:
    """Understood, but it does nothing here."""
    return f"Not now: {words}." if words else "Not now."


FINISH_LATER: Final = "Not before the end. Stop keeps it."  # finish in the middle of something


@spoken
def say_instead(word: str, by: Channel = "voice") -> str:
    """Another word of agreement is wanted here; ``by``: the voice, typed, or a key."""
    return "Enter when it is." if by == "keypad" else f"{_VERBS[by]} {word} when it is."


YES_OR_NO: Final = "Yes or no?"  # another word of agreement where a yes or a no is wanted


@spoken
def wanted(what: str, skip: bool, by: Channel = "voice") -> str:
    """A yes where a number or a sign is asked for; ``skip``: it can be left as it is."""
    if by != "keypad":
        return f"{_VERBS[by]} {what}{', or skip' if skip else ''}."
    enter = ", then Enter" if what == THE_NUMBER else ""
    return f"Press {what}{enter}.{' Slash four skips.' if skip else ''}"


THE_NUMBER: Final = "the number"
THE_SIGN: Final = "plus or minus"
_VERBS: Final[dict[Channel, str]] = {"voice": "Say", "text": "Type", "keypad": "Press"}


@spoken
def say_word(name: str) -> str:
    """The end of a question that is answered by the word for what hands have done."""
    return f"Say {name}."


THEN_ENTER: Final = "Then Enter."  # the same for whoever answers by key

NO_SIGN: Final = "A gap has no sign."  # a minus was called


def digitwise(value: Decimal) -> bool:
    """From ten on numbers sound alike: fifteen and fifty are told apart digit by digit."""
    return abs(value) >= 10 and value == int(value)


# -- corrections -------------------------------------------------------------------------

ON_TARGET: Final = "On target."  # the dial shows the target
WRONG_WAY: Final = "It went the wrong way. Check the clamp."  # the shim made it worse
NO_RESPONSE: Final = "The shim did nothing. Is it clamped?"  # the shim did nothing
AS_EXPECTED: Final = "As expected."  # the correction did what it should


@spoken
def not_as_expected(expected: Decimal, got: Decimal) -> str:
    """The correction did something else."""
    return f"Expected {signed_words(expected)}, got {signed_words(got)}."


# -- the verdict -------------------------------------------------------------------------


@spoken
def high_side(high: Station, value: str) -> str:
    """One axis that is out."""
    return f"{high.capitalize()} high {value}."


@spoken
def axis_inside_noise(axis: str) -> str:
    """One axis that cannot be told from noise: never called zero."""
    return f"{axis.capitalize()} too small to read."


INSIDE_NOISE: Final = "too small to read"  # in place of a number that cannot be told from zero
BOTH_INSIDE_NOISE: Final = "Both ways too small to read."  # neither axis can be told from noise


@spoken
def plus_or_minus(value: str, most: str = "") -> str:
    """The uncertainty, and where most of it comes from."""
    return f"Plus or minus {value}, mostly {most}." if most else f"Plus or minus {value}."


UNDECIDED: Final = "Too close to call."  # neither proven in nor proven out

# -- the record --------------------------------------------------------------------------

REPORT_WRITTEN: Final = "Report written."  # the report is on the disk
NOT_REMEMBERED: Final = "Kept for this job only."  # the machine's file cannot be written

REPORT_FAILED: Final = "No report. The record is kept."
"""The report could not be written; the record is complete all the same."""

RECORD_IN_USE: Final = "Another copy has the record. Carry on there."

CANNOT_GO_ON: Final = "The job cannot go on. Read the screen."
"""The program ends for another reason, which is printed."""

RECORD_DAMAGED: Final = "The record is damaged. Check the last reading."
"""Part of the record could not be read; what could is used."""

RECORD_MOVED: Final = "The record was deleted. A new one is kept."
"""The record's file was taken away while it was in use; a new one holds the job."""

DISK_FULL: Final = "Not kept: disk full. Free space, answer again."
DISK_READ_ONLY: Final = "Not kept: the disk is read-only."

DISK_SLOW: Final = "The disk does not answer. Wait."
"""The record waits for the disk; nothing is lost so far."""

AUDIO_NOT_KEPT: Final = "No more audio is kept."
"""The sound of an utterance could not be written; the record itself goes on."""

CLOCK_SET: Final = "The clock was set. Readings keep their order."
"""Times in the report may jump; the order of events does not depend on them."""

NOT_KEPT: Final = "Not kept: the disk refuses. Answer again."
"""The record could not be written, so what was just answered does not count."""

STOPPED: Final = "Stopped. All is kept."  # saved; it can go on

# -- any time ----------------------------------------------------------------------------

MISSED: Final = "Say again?"  # one utterance was not understood

MISSED_TWICE: Final = "Not clear. Keypad works too."
"""Two misses running: offer the keypad and keep trying."""

MISSED_TYPED: Final = "Not understood. Type it again?"  # the same of what was typed
MISSED_TYPED_TWICE: Final = "Not understood. Help lists the words."

BEYOND_DIAL: Final = "Beyond this dial. Once more?"  # more than the dial can show


@spoken
def finer_than_dial(value: Decimal, signed: bool) -> str:
    """A number between the marks of the dial, in counts: said back, the nearest mark is called."""
    called = signed_words(value) if signed else number_words(value)
    return f"Finer than the dial: {called}. Nearest mark?"


TOO_LOUD: Final = "Too loud. Use the keypad."  # the room is too loud for the recogniser
QUIET_AGAIN: Final = "I can hear again."  # the room is quiet enough again
STANDING_BY: Final = "Standing by."  # not listening until "go ahead"
GOING_AHEAD: Final = "Going ahead."  # listening again


@spoken
def device_lost(device: str) -> str:
    """A device stopped working; the rest carries on."""
    return f"Lost the {device}. {WORKS_YET[device]}"


WORKS_YET: Final = {
    "microphone": "Keypad and typing work.",
    "recogniser": "Keypad and typing work.",
    "speaker": "Prompts are on the screen.",
    "voice": "Prompts are on the screen.",
    "keypad": "Voice and typing work.",
    "screen": "Voice and keypad work.",
}
"""What carries on without a device."""


@spoken
def device_back(device: str) -> str:
    """It works again."""
    return f"The {device} is back."


@spoken
def can_say(phrases: Sequence[str], number: str = "", by: Channel = "voice") -> str:
    """Help: what can be said now, or typed."""
    listed = [number, *phrases] if number else list(phrases)
    return f"{_VERBS[by]} {', '.join(listed)}."


@spoken
def number_hint(station: Station | None, way: Way = "signed") -> str:
    """How a reading is called."""
    signs = "plus or minus a number" if way == "signed" else "a number"
    return f"{station} {signs}" if station else "a number"


@spoken
def shim_hint(places: bool) -> str:
    """How a shim is called; ``places``: with its side of a tilt bolt."""
    return "shim, a number, above or below" if places else "shim and a number"


@spoken
def status(sweep: Decimal, done: Decimal, found: str, left: str) -> str:
    """Where the job is."""
    if not found:
        return f"Sweep {number_words(sweep)}, {number_words(done)} read."
    return f"Sweep {number_words(sweep)}. Found {found}, now {left}."


@spoken
def bad_entry() -> str:
    """Keys that make no number."""
    return "Not a number. Type it again."


KEYS: Final[dict[str, str]] = {
    "enter": "enter", "-": "minus", "+": "plus", "*": "star", "/": "slash", ".": "point",
}  # fmt: skip
"""The keys that are not digits."""


@spoken
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


@spoken
def leans(depth: str, amount: str, towards: str) -> str:
    """Where a drill comes out, for a tilt that stands out of the noise."""
    return f"A {depth} hole leans {amount} to the {towards}."


@spoken
def leans_under(depth: str, amount: str) -> str:
    """The most that it may lean, where the tilt is inside the noise or hardly leans a hole."""
    return f"A {depth} hole leans under {amount}."
