"""Every spoken word, as functions; wording is reviewed in the golden list of the tests.

A prompt asks one thing and is rarely over eight words. Numbers come from ``grammar.say``
only, in counts of the job's scale, so that what is spoken can be parsed again.
"""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from grammar.meaning import Command, Place
from grammar.numbers import number_words
from grammar.say import signed_words
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, Station

# -- make safe ---------------------------------------------------------------------------


def unplugged() -> str:
    """The first question of every job."""
    return "Is the machine unplugged?"


def unplug_first() -> str:
    """No to the first question."""
    return "Unplug it first. Hard-wired: lock it out."


def key_out() -> str:
    """The chuck key flies when a spindle starts; eye protection belongs to it."""
    return "Chuck key out, glasses on?"


def key_out_first() -> str:
    """No to the second question."""
    return "Key out and glasses on first."


def table_held() -> str:
    """A table may drop when its lock is loosened."""
    return "Is the table held from dropping?"


def hold_table_first() -> str:
    """No to the third question."""
    return "Block or jack the table first."


def by_hand_only() -> str:
    """Said once the machine is safe."""
    return "Spindle by hand only. The machine's manual rules."


# -- set up ------------------------------------------------------------------------------


def set_up(diameter: str, tolerance: str) -> str:
    """Read the set-up back; the person chucks the bar and preloads the dial."""
    return f"Bar in, dial preloaded. Sweep {diameter}, within {tolerance}. Right?"


def diameter(unit: str) -> str:
    """Ask for the sweep diameter."""
    return f"Sweep diameter, in {unit}?"


def tolerance(unit: str) -> str:
    """Ask for the tolerance."""
    return f"Tolerance over the sweep, in {unit}?"


def too_small() -> str:
    """A size or tolerance of zero."""
    return "It must be above zero."


# -- zero and sweep ----------------------------------------------------------------------


def lock() -> str:
    """Everything must be tight before the dial means anything."""
    return "Lock table, column and quill. Say locked."


def zero(station: Station) -> str:
    """Zero the dial at the first station."""
    return f"Dial to zero at the {station}. Say zeroed."


def call(station: Station) -> str:
    """Ask for a station's reading."""
    return f"{station.capitalize()}?"


def call_again(station: Station) -> str:
    """Ask for a station a second time: to close the sweep, or because it did not fit."""
    return f"{station.capitalize()} again?"


def reading(station: Station, value: Decimal, *, digitwise: bool = False) -> str:
    """Read a value back with station, sign and number."""
    return f"{station.capitalize()} {signed_words(value, digitwise=digitwise)}."


def corrected(station: Station, value: Decimal) -> str:
    """Read a replaced value back."""
    return f"{station.capitalize()} now {signed_words(value)}."


def taken_back(station: Station) -> str:
    """After "disregard"."""
    return f"{station.capitalize()} taken back."


def ask_sign(value: Decimal) -> str:
    """A number came without its sign."""
    return f"Plus or minus {number_words(value)}?"


def ask_reading(station: Station, value: Decimal) -> str:
    """A doubtful reading; from ten on it is said digit by digit, so that fifteen is not fifty."""
    digitwise = abs(value) >= 10 and value == int(value)
    return f"{station.capitalize()} {signed_words(value, digitwise=digitwise)}?"


def tenths_words(value: Decimal, scale: Scale) -> str:
    """A reading in tenths said in full, so that inch and metric ears agree."""
    tenths = value * 10 if scale.system == "thou" else value / 10
    whole = "thou" if scale.system == "thou" else "millimetre"
    return f"{signed_words(tenths)} tenths of a {whole}"


def ask_tenths(station: Station, words: str) -> str:
    """Tenths mean different things to different ears: asked once, in full."""
    return f"{station.capitalize()} {words}?"


def ask_command(command: Command) -> str:
    """A doubtful or weighty command."""
    return f"{BY_NAME[command.name].says[0].capitalize()}?"


def ask_stop() -> str:
    """Stopping keeps everything."""
    return "Stop here? All is kept."


def no_match() -> str:
    """After "no" to every way that a doubtful call may have been meant."""
    return "Say it once more."


def misfit() -> str:
    """The readings cannot belong to a plane; the likeliest to be wrong is asked again."""
    return "They don't fit."


def not_flat() -> str:
    """Read again and still no plane."""
    return "Still no fit. Table not flat, maybe."


def drifted(station: Station, drift: str) -> str:
    """The first station does not repeat."""
    return f"{station.capitalize()} moved {drift}. Sweep again."


def drifting_on() -> str:
    """The sweep will not close again and again."""
    return "Check bar, clamp and dial for play."


def not_while_loose() -> str:
    """A reading was called while something is loose."""
    return "Not while it is loose."


def not_zeroed() -> str:
    """A reading was called before the dial was zeroed."""
    return "Dial to zero first."


def not_now(words: str) -> str:
    """Understood, but it does nothing here."""
    return f"Not now: {words}." if words else "Not now."


def closed_first() -> str:
    """The first station was called before the others."""
    return "The others first."


# -- judge -------------------------------------------------------------------------------


def amount(value: float | Decimal, step: Decimal) -> str:
    """A computed value without sign, rounded to the step that is spoken."""
    return number_words(rounded(abs(value), step))


def rounded(value: float | Decimal, step: Decimal) -> Decimal:
    """Round half up to a multiple of the step; exact afterwards.

    >>> rounded(3.26, Decimal("0.5"))
    Decimal('3.5')
    """
    steps = (Decimal(str(value)) / step).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    return (steps * step).normalize() + 0


def high_side(high: Station, value: str) -> str:
    """One axis that is out."""
    return f"{high.capitalize()} high {value}."


def axis_inside_noise(axis: str) -> str:
    """One axis that cannot be told from noise: never called zero."""
    return f"{axis.capitalize()} inside noise."


def both_inside_noise() -> str:
    """Neither axis can be told from noise."""
    return "Both ways inside noise."


def plus_or_minus(value: str, most: str = "") -> str:
    """The uncertainty, and where most of it comes from."""
    return f"Plus or minus {value}, most of it {most}." if most else f"Plus or minus {value}."


def within(tolerance_words: str) -> str:
    """The verdict that ends a job."""
    return f"Square within {tolerance_words}."


def undecided() -> str:
    """Neither proven in nor proven out."""
    return "Too close to call."


def beyond() -> str:
    """Proven out of tolerance."""
    return "Out of tolerance."


def not_worth_chasing() -> str:
    """What is left is inside the noise."""
    return "Not worth chasing: it is noise."


def step_too_big() -> str:
    """The smallest shim would overshoot."""
    return "The thinnest leaf would overshoot."


def finish_question() -> str:
    """Offer the end."""
    return "Finish?"


def go_further_question() -> str:
    """Within tolerance but one more step would help, or the other way round."""
    return "Correct it?"


def as_expected() -> str:
    """The correction did what it should."""
    return "As expected."


def not_as_expected(expected: Decimal, got: Decimal) -> str:
    """The correction did something else."""
    return f"Expected {signed_words(expected)}, got {signed_words(got)}."


def wrong_way() -> str:
    """The shim made it worse."""
    return "It went the wrong way. Check the shim."


def no_response() -> str:
    """The shim did nothing."""
    return "The shim did nothing. Is it clamped?"


# -- correct -----------------------------------------------------------------------------


def loosen() -> str:
    """Before the shim."""
    return "Hold the table. Loosen the tilt bolt. Done?"


def shim(leaves: Sequence[Decimal], total: Decimal, place: Place) -> str:
    """What to put in and where: the whole shim that should be in afterwards."""
    stack = " and ".join(number_words(leaf) for leaf in leaves)
    if len(leaves) > 1:
        return f"Shim {number_words(total)} {place} the bolt: {stack}. Done?"
    return f"Shim {number_words(total)} {place} the bolt. Done?"


def shim_out() -> str:
    """The best shim is none."""
    return "Take the shim out. Done?"


def shim_is(total: Decimal, place: Place | None) -> str:
    """Read back what the person says is in."""
    if total == 0 or place is None:
        return "No shim."
    return f"Shim {number_words(total)} {place}."


def shim_where() -> str:
    """A shim was called without its side."""
    return "Above or below the bolt?"


def tighten() -> str:
    """After the shim."""
    return "Tighten the bolt. Lock all. Say locked."


def ease(watch: Station) -> str:
    """Before tapping."""
    return f"Dial at the {watch}. Ease the lock, keep friction. Done?"


def tap(watch: Station, down: bool, target: Decimal) -> str:
    """Where to tap to."""
    way = "down" if down else "up"
    return f"Tap {watch} {way} to {signed_words(target)}."


def watch_this(watch: Station) -> str:
    """Another station was called while tapping."""
    return f"Watch the {watch} now."


def tap_more(value: str, down: bool) -> str:
    """Not there yet."""
    return f"{value.capitalize()} more {'down' if down else 'up'}."


def tap_back(value: str, down: bool) -> str:
    """Gone too far: ``down`` is the way back."""
    return f"Too far. Back {'down' if down else 'up'} {value}."


def on_target() -> str:
    """The dial shows the target."""
    return "On target."


def tap_lock() -> str:
    """After tapping."""
    return "Lock it. Say locked."


# -- close -------------------------------------------------------------------------------


def close() -> str:
    """Before power comes back."""
    return "Lock all, bar out, key out. Done?"


def closed(found: str, left: str) -> str:
    """The last words of a job."""
    return f"As found {found}, as left {left}."


def report_written() -> str:
    """The report is on the disk."""
    return "Report written."


def report_failed() -> str:
    """The report could not be written; the record is complete all the same."""
    return "No report. The record is kept."


def record_damaged() -> str:
    """Part of the record could not be read; what could is used."""
    return "The record is damaged. Check the last reading."


def not_kept() -> str:
    """The record could not be written, so what was just said does not count."""
    return "Not kept: the disk refuses. Say it again."


def closed_unmeasured() -> str:
    """Closed before a whole sweep was taken."""
    return "Closed without a sweep."


def stopped() -> str:
    """Saved; it can go on."""
    return "Stopped. All is kept."


# -- any time ----------------------------------------------------------------------------


def missed() -> str:
    """One utterance was not understood."""
    return "Say again?"


def missed_twice() -> str:
    """Two misses running: offer the keypad and keep trying."""
    return "Not clear. Keypad works too."


def too_loud() -> str:
    """The room is too loud for the recogniser."""
    return "Too loud. Use the keypad."


def quiet_again() -> str:
    """The room is quiet enough again."""
    return "I can hear again."


def standing_by() -> str:
    """Not listening until "go ahead"."""
    return "Standing by."


def going_ahead() -> str:
    """Listening again."""
    return "Going ahead."


def go_on() -> str:
    """After a restart."""
    return "Unfinished job. Go on with it?"


def still_unplugged() -> str:
    """After a restart the machine may have been used."""
    return "Still unplugged, key out?"


def device_lost(device: str) -> str:
    """A device stopped working; the rest carries on."""
    return f"Lost the {device}. Keypad and typing work."


def device_back(device: str) -> str:
    """It works again."""
    return f"The {device} is back."


def can_say(phrases: Sequence[str], number: str = "") -> str:
    """Help: what can be said now."""
    listed = [number, *phrases] if number else list(phrases)
    return f"Say {', '.join(listed)}."


def number_hint(station: Station | None) -> str:
    """How a reading is called."""
    return f"{station} plus or minus a number" if station else "a number"


def shim_hint() -> str:
    """How a shim is called."""
    return "shim, a number, above or below"


def status(sweep: Decimal, done: Decimal, found: str, left: str) -> str:
    """Where the job is."""
    if not found:
        return f"Sweep {number_words(sweep)}, {number_words(done)} read."
    return f"Sweep {number_words(sweep)}. Found {found}, now {left}."


def erased() -> str:
    """The typed entry was cleared."""
    return "Cleared."


def bad_entry() -> str:
    """Keys that make no number."""
    return "Not a number. Type it again."
