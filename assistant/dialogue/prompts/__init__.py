"""Every spoken word; wording is reviewed in the golden list of the tests.

Here stand the prompts of squaring a table; every further procedure has a module beside.
A prompt asks one thing and is rarely over eight words. Numbers come from ``grammar.say``
only, in counts of the job's scale, so that what is spoken can be parsed again.
"""

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from grammar.meaning import Command, Place
from grammar.numerals import number_words
from grammar.say import Way, signed_words, value_words
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, Station

# -- make safe ---------------------------------------------------------------------------

UNPLUGGED: Final = "Is the machine unplugged?"  # the first question of every job
UNPLUG_FIRST: Final = "Unplug it first. Hard-wired: lock it out."  # no to the first question
KEY_OUT: Final = "Chuck key out, glasses on?"
"""The chuck key flies when a spindle starts; eye protection belongs to it."""

KEY_OUT_FIRST: Final = "Key out and glasses on first."  # no to the second question
TABLE_HELD: Final = "Is the table held from dropping?"  # a table may drop when its lock is loosened
HOLD_TABLE_FIRST: Final = "Block or jack the table first."  # no to the third question
BY_HAND_ONLY: Final = "Spindle by hand only. The machine's manual rules."
"""Said once the machine is safe."""

# -- set up ------------------------------------------------------------------------------


BAR_IN: Final = "Bar in, dial preloaded."  # what stands in the chuck for an indicator


def set_up(diameter: str, tolerance: str, ready: str = BAR_IN) -> str:
    """Read the set-up back; the person chucks the bar and gets the dial ready."""
    return f"{ready} Sweep {diameter}, within {tolerance}. Yes?"


def diameter(unit: str) -> str:
    """Ask for the sweep diameter."""
    return f"Sweep diameter, in {unit}?"


def tolerance(unit: str) -> str:
    """Ask for the tolerance."""
    return f"Tolerance over the sweep, in {unit}?"


TOO_SMALL: Final = "It must be above zero."  # a size or tolerance of zero

# -- settle ------------------------------------------------------------------------------

SURFACE: Final = "Move the dial about one spot. Call each, then done."
"""How rough the surface is under the tip."""


def relock(station: Station) -> str:
    """How well the lock repeats."""
    return f"{station.capitalize()}: unlock, lock to the mark. Call each, then done."


def snug(station: Station) -> str:
    """The pull of the lock, first reading."""
    return f"Lock it snug. {station.capitalize()}?"


def hard(station: Station) -> str:
    """The pull of the lock, second reading."""
    return f"Pull the lock hard. {station.capitalize()}?"


def noted(value: Decimal, way: Way = "signed") -> str:
    """Read a noise reading back."""
    return f"{value_words(value, way).capitalize()}."


NOTED_BACK: Final = "Taken back."  # the last noise reading is gone
TOO_FEW: Final = "Three readings at least."  # scatter cannot be told from fewer


def settled(surface: str, relocking: str, pull: str) -> str:
    """What was measured, each part that was."""
    parts = [("Surface", surface), ("locking", relocking), ("lock pull", pull)]
    told = ", ".join(f"{name} {value}" for name, value in parts if value)
    return f"{told[:1].upper()}{told[1:]}." if told else "Nothing measured."


SETTLE_HINT: Final = "Say settle to measure the noise."
"""Too close to call, and the noise was only assumed."""

# -- zero and sweep ----------------------------------------------------------------------

LOCK: Final = "Lock table, column and quill. Say locked."
"""Everything must be tight before the dial means anything."""


def zero(station: Station) -> str:
    """Zero the dial at the first station."""
    return f"Dial to zero at the {station}. Say zeroed."


def call(station: Station) -> str:
    """Ask for a station's reading."""
    return f"{station.capitalize()}?"


def which(station: Station, heard: Decimal, instead: Decimal, way: Way = "signed") -> str:
    """One reading does not fit and another way to hear it does: ask about exactly that."""
    first = value_words(heard, way, digitwise=_digitwise(heard))
    other = value_words(instead, way, digitwise=_digitwise(instead))
    return f"{station.capitalize()}: {first}, or {other}?"


def _digitwise(value: Decimal) -> bool:
    # From ten on numbers sound alike: fifteen and fifty are told apart digit by digit.
    return abs(value) >= 10 and value == int(value)


def call_again(station: Station) -> str:
    """Ask for a station a second time: to close the sweep, or because it did not fit."""
    return f"{station.capitalize()} again?"


def reading(station: Station, value: Decimal, way: Way = "signed") -> str:
    """Read a value back with station, sign and number."""
    return f"{station.capitalize()} {value_words(value, way)}."


def corrected(station: Station, value: Decimal, way: Way = "signed") -> str:
    """Read a replaced value back."""
    return f"{station.capitalize()} now {value_words(value, way)}."


def taken_back(station: Station) -> str:
    """After "disregard"."""
    return f"{station.capitalize()} taken back."


def ask_sign(value: Decimal, elsewhere: Station | None = None) -> str:
    """A number came without its sign; ``elsewhere``: for another station than is awaited."""
    asked = f"Plus or minus {number_words(value)}?"
    return f"{elsewhere.capitalize()}? {asked}" if elsewhere else asked


def ask_reading(station: Station, value: Decimal, way: Way = "signed") -> str:
    """A doubtful reading; from ten on it is said digit by digit, so that fifteen is not fifty."""
    return f"{station.capitalize()} {value_words(value, way, digitwise=_digitwise(value))}?"


def tenths_words(value: Decimal, scale: Scale) -> str:
    """A reading in tenths said in full, so that inch and metric ears agree."""
    tenths = value * 10 if scale.system == "thou" else value / 10
    whole = "thou" if scale.system == "thou" else "millimetre"
    return f"{signed_words(tenths)} tenths of a {whole}"


def ask_tenths(station: Station, value: Decimal, scale: Scale) -> str:
    """Tenths mean different things to different ears: asked once, in full."""
    # A voice is offered what the dial shows only, but any tenths can be typed.
    finer = "Finer than the dial. " if value % scale.step else ""
    return f"{finer}{station.capitalize()} {tenths_words(value, scale)}?"


def ask_command(command: Command) -> str:
    """A doubtful or weighty command."""
    return f"{BY_NAME[command.name].says[0].capitalize()}?"


ASK_STOP: Final = "Stop here? All is kept."  # stopping keeps everything
NO_MATCH: Final = "Say it once more."
"""After "no" to every way that a doubtful call may have been meant."""

MISFIT: Final = "They don't fit."
"""The readings cannot belong to a plane; the likeliest to be wrong is asked again."""

NOT_FLAT: Final = "Still no fit. Table not flat, maybe."  # nor does a new sweep, or none is wanted


def drifted(station: Station, drift: str) -> str:
    """The first station does not repeat."""
    return f"{station.capitalize()} moved {drift}. Sweep again."


DRIFTING_ON: Final = "Check bar, clamp and dial for play."
"""The sweep will not close again and again."""

NOT_WHILE_LOOSE: Final = "Not while it is loose."  # a reading was called while something is loose
NOT_ZEROED: Final = "Not zeroed yet."  # a reading was called before the dial was zeroed


def not_now(words: str) -> str:
    """Understood, but it does nothing here."""
    return f"Not now: {words}." if words else "Not now."


CLOSED_FIRST: Final = "The others first."  # the first station was called before the others

# -- judge -------------------------------------------------------------------------------


def high_side(high: Station, value: str) -> str:
    """One axis that is out."""
    return f"{high.capitalize()} high {value}."


def axis_inside_noise(axis: str) -> str:
    """One axis that cannot be told from noise: never called zero."""
    return f"{axis.capitalize()} inside noise."


INSIDE_NOISE: Final = "inside noise"  # in place of a number that cannot be told from zero
BOTH_INSIDE_NOISE: Final = "Both ways inside noise."  # neither axis can be told from noise


def plus_or_minus(value: str, most: str = "") -> str:
    """The uncertainty, and where most of it comes from."""
    return f"Plus or minus {value}, most of it {most}." if most else f"Plus or minus {value}."


def within(tolerance_words: str) -> str:
    """The verdict that ends a job."""
    return f"Square within {tolerance_words}."


UNDECIDED: Final = "Too close to call."  # neither proven in nor proven out
BEYOND: Final = "Out of tolerance."  # proven out of tolerance
NOT_WORTH_CHASING: Final = "Not worth chasing: the rest is noise."
"""What is left is inside the noise."""

FINISH_QUESTION: Final = "Finish?"  # offer the end
AS_EXPECTED: Final = "As expected."  # the correction did what it should


def not_as_expected(expected: Decimal, got: Decimal) -> str:
    """The correction did something else."""
    return f"Expected {signed_words(expected)}, got {signed_words(got)}."


WRONG_WAY: Final = "It went the wrong way. Check the shim."  # the shim made it worse
NO_RESPONSE: Final = "The shim did nothing. Is it clamped?"  # the shim did nothing

# -- correct -----------------------------------------------------------------------------

LOOSEN: Final = "Hold the table. Loosen the tilt bolt. Done?"  # before the shim


def shim(leaves: Sequence[Decimal], total: Decimal, place: Place) -> str:
    """What to put in and where: the whole shim that should be in afterwards."""
    stack = " and ".join(number_words(leaf) for leaf in leaves)
    if len(leaves) > 1:
        return f"Shim {number_words(total)} {place} the bolt: {stack}. Done?"
    return f"Shim {number_words(total)} {place} the bolt. Done?"


SHIM_OUT: Final = "Take the shim out. Done?"  # the best shim is none


def shim_is(total: Decimal, place: Place | None) -> str:
    """Read back what the person says is in."""
    if total == 0 or place is None:
        return "No shim."
    return f"Shim {number_words(total)} {place}."


SHIM_WHERE: Final = "Above or below the bolt?"  # a shim was called without its side
TIGHTEN: Final = "Tighten the bolt. Lock all. Say locked."  # after the shim


def ease(watch: Station, what: str = "Dial") -> str:
    """Before tapping; ``what`` is read there."""
    return f"{what} at the {watch}. Ease the lock, keep friction. Done?"


def tap(watch: Station, down: bool, target: Decimal, way: Way = "signed") -> str:
    """Where to tap to."""
    return f"Tap {watch} {'down' if down else 'up'} to {value_words(target, way)}."


def watch_this(watch: Station) -> str:
    """Another station was called while tapping."""
    return f"Watch the {watch} now."


def tap_more(value: str, down: bool) -> str:
    """Not there yet."""
    return f"{value.capitalize()} more {'down' if down else 'up'}."


def tap_back(value: str, down: bool) -> str:
    """Gone too far: ``down`` is the way back."""
    return f"Too far. Back {'down' if down else 'up'} {value}."


ON_TARGET: Final = "On target."  # the dial shows the target
TAP_LOCK: Final = "Lock it. Say locked."  # after tapping

# -- close -------------------------------------------------------------------------------

CLOSE: Final = "Lock all, bar out, key out. Done?"  # before power comes back


def closed(found: str, left: str) -> str:
    """The last words of a job."""
    return f"As found {found}, as left {left}."


REPORT_WRITTEN: Final = "Report written."  # the report is on the disk
NOT_REMEMBERED: Final = "Kept for this job only."  # the machine's file cannot be written
REPORT_FAILED: Final = "No report. The record is kept."
"""The report could not be written; the record is complete all the same."""

RECORD_IN_USE: Final = "Another copy has the record. Carry on there."
CANNOT_GO_ON: Final = "The job cannot go on. Read the screen."
"""The program ends for another reason, which is printed."""

RECORD_DAMAGED: Final = "The record is damaged. Check the last reading."
RECORD_MOVED: Final = "The record was deleted. It is kept anew."
"""Part of the record could not be read; what could is used."""

DISK_FULL: Final = "Not kept: disk full. Free space, say it again."
DISK_READ_ONLY: Final = "Not kept: the disk is read-only."
DISK_SLOW: Final = "The disk does not answer. Wait."
"""The record waits for the disk; nothing is lost so far."""

AUDIO_NOT_KEPT: Final = "No more audio is kept."
"""The sound of an utterance could not be written; the record itself goes on."""

CLOCK_SET: Final = "The clock was set. Readings keep their order."
"""Times in the report may jump; the order of events does not depend on them."""

NOT_KEPT: Final = "Not kept: the disk refuses. Say it again."
"""The record could not be written, so what was just said does not count."""

CLOSED_UNMEASURED: Final = "Closed without a sweep."  # closed before a whole sweep was taken
STOPPED: Final = "Stopped. All is kept."  # saved; it can go on

# -- any time ----------------------------------------------------------------------------

MISSED: Final = "Say again?"  # one utterance was not understood
MISSED_TWICE: Final = "Not clear. Keypad works too."
"""Two misses running: offer the keypad and keep trying."""

TOO_LOUD: Final = "Too loud. Use the keypad."  # the room is too loud for the recogniser
QUIET_AGAIN: Final = "I can hear again."  # the room is quiet enough again
STANDING_BY: Final = "Standing by."  # not listening until "go ahead"
GOING_AHEAD: Final = "Going ahead."  # listening again
GO_ON: Final = "Unfinished job. Go on with it?"  # after a restart
STILL_UNPLUGGED: Final = "Still unplugged, key out?"
"""After a restart the machine may have been used."""


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


def device_back(device: str) -> str:
    """It works again."""
    return f"The {device} is back."


def can_say(phrases: Sequence[str], number: str = "") -> str:
    """Help: what can be said now."""
    listed = [number, *phrases] if number else list(phrases)
    return f"Say {', '.join(listed)}."


def number_hint(station: Station | None, way: Way = "signed") -> str:
    """How a reading is called."""
    signs = "plus or minus a number" if way == "signed" else "a number"
    return f"{station} {signs}" if station else "a number"


SHIM_HINT: Final = "shim, a number, above or below"  # how a shim is called


def status(sweep: Decimal, done: Decimal, found: str, left: str) -> str:
    """Where the job is."""
    if not found:
        return f"Sweep {number_words(sweep)}, {number_words(done)} read."
    return f"Sweep {number_words(sweep)}. Found {found}, now {left}."


def bad_entry() -> str:
    """Keys that make no number."""
    return "Not a number. Type it again."
