"""What is spoken when the table is set by touch: a bent rod is lowered until it drags."""

from typing import Final

from grammar.vocabulary import Station

ROD_IN: Final = "Bent rod in. Yes?"  # what stands in the chuck; no size or tolerance counts
FIRST: Final = "Lower the rod, turning. Which drags first? Or skip."
"""Little by little, the spindle by hand; all alike is "skip"."""

SECOND: Final = "Lower it on. Which side next?"  # the second to drag


def last(side: Station) -> str:
    """On a plane the last to drag lies opposite the first."""
    return f"{side.capitalize()} last?"


NO_PLANE: Final = "That is no plane."
"""The order does not belong to a plane: a bump, or a slip of the ear."""

NO_NUMBERS: Final = "By touch there are no numbers."  # a number was called
HOW_MUCH: Final = "How much, touch cannot tell."  # said once, with the first round


def dragged(side: Station) -> str:
    """Read the side back."""
    return f"{side.capitalize()}."


def high(side: Station, towards: Station | None) -> str:
    """Which side is high, and towards which other."""
    return f"High at the {side}, towards the {towards}." if towards else f"High at the {side}."


def still(side: Station) -> str:
    """The same side as the round before is high: what was done was not enough."""
    return f"Still the {side}: not enough."


def flipped(side: Station) -> str:
    """The other side of the same axis is high now."""
    return f"Now the {side}: too much."


def other_axis(side: Station) -> str:
    """What is high first is on the other axis now: the one that was corrected is the better."""
    return f"Better. Now the {side} first."


EVEN: Final = "All alike, as far as touch can tell."  # nothing drags first
FINE_ENOUGH: Final = "Between two leaves: as even as they make it."  # no stack lies between
NO_PROOF: Final = "That proves no tolerance."  # with the offer to finish


ROUND_BACK: Final = "Taken back."  # the last round counts no more


def tap(watch: Station) -> str:
    """How far is not known: a little, and see what drags first."""
    return f"Tap the {watch} down a little. Done?"


def closed(found: str, left: str) -> str:
    """The last words of a job by touch."""
    return f"As found {found}, as left {left}."
