"""What differs between the ways of measuring: how numbers are spoken, what is held ready.

Belongs here: one entry for each method, with the words that other procedures speak about it.
What is done only by one method is in that procedure's file.
"""

from dataclasses import dataclass
from typing import Final

from assistant.dialogue.machine import Method, Profile
from assistant.dialogue.spoken import spoken
from grammar.say import Way
from grammar.vocabulary import Station

BAR_IN: Final = "Bar in tight, key out, dial preloaded."  # what an indicator needs
BENT_ROD_IN: Final = "Bent rod in tight, key out."  # for gaps under a rod
STRAIGHT_BAR_IN: Final = "Straight bar in tight, key out, square ready."  # for a square

SPOT_BY_SQUARE: Final = "Set the square again. Call each leaf, then done."
"""How well a square repeats at one spot."""


@spoken
def spots_apart(what: str, far: str) -> str:
    """How rough the surface is, at spots so far apart that one wave does not make them alike."""
    return f"{what} to eight spots, {far} apart, clockwise. Call each, then done."


@spoken
def square_first(station: Station) -> str:
    """The first station of a sweep tells how: no light at all is zero."""
    return f"Square at the {station}. Which leaf goes? Or zero."


@dataclass(frozen=True, slots=True)
class Differs:
    """One way of measuring.

    ``way``: how a reading is spoken. ``ready``: what stands in the chuck. ``spot``: how the
    noise of the surface is measured where nothing is moved along it; empty: at spots well apart.
    ``watched``: what is read while the table is tapped. ``how_ready``, ``how_call``: help, how to
    get it ready and how a reading is called.
    ``closes``: a sweep ends at its first station again: a square has no zero that may wander.
    """

    way: Way
    ready: str
    spot: str
    watched: str
    closes: bool = True
    how_ready: str = ""
    how_call: str = ""


METHODS: dict[Method, Differs] = {
    "indicator": Differs(
        "signed", BAR_IN, "", "Dial",
        how_ready="Lower it until the hand goes half round.",
        how_call="Turn the spindle by hand. Plunger in is plus. Flick a tip that sticks.",
    ),
    "gap": Differs(
        "plain", BENT_ROD_IN, "", "Rod",
        how_ready="Its bent end just clears the table.",
        how_call="Turn by hand. Call the thickest leaf that goes.",
    ),
    "square": Differs(
        "ends", STRAIGHT_BAR_IN, SPOT_BY_SQUARE, "Square", closes=False,
        how_ready="A straight bar, as long as you have.",
        how_call="Blade to the bar. Which leaf fills the gap?",
    ),
    "touch": Differs(
        "plain", BENT_ROD_IN, "", "Rod", how_ready="Its bent end just clears the table.",
    ),
}  # fmt: skip


def method_of(profile: Profile) -> Differs:
    """The way of measuring of this job."""
    return METHODS[profile.method]


def way_of(profile: Profile) -> Way:
    """How a reading is spoken by the method of the job."""
    return method_of(profile).way
