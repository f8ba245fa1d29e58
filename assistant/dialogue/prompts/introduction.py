"""Prompts of the introduction: which machine it is, before its job begins."""

from typing import Final

HELLO: Final = "Yes or no, by voice or Enter and minus."  # nobody has used it here yet
NEW: Final = "A new machine, then."  # no to every machine that is known
NEAREST: Final = "The nearest one, then."  # no to every kind: asked round again
WAYS: Final = (
    "With a dial indicator?",
    "With feeler leaves under a rod?",
    "With a square and a leaf?",
    "With a rod, by touch alone?",
)
"""How the table is measured, in the order of the introduction."""

INCH: Final = "In thousandths of an inch?"  # no: hundredths of a millimetre
BOTH_WAYS: Final = "Does it count both ways from zero?"  # no: one way round
THE_NUMBER: Final = "Give the number, then."  # no to a usual figure
TOO_LARGE: Final = "That is too large."  # beyond what a machine or a dial can have
WHOLE: Final = "A whole number."  # a dial's range is counted in whole marks
ASK_STOP: Final = "Stop here? No machine is kept."  # nothing was made yet
STOPPED: Final = "Stopped. No machine was made."  # it begins again next time
STATUS: Final = "Choosing the machine."  # no job has begun yet


def machine(name: str) -> str:
    """Is it this one, or a machine of this kind?"""
    return f"{name[:1].upper()}{name[1:]}?"


def reach(number: str, count: str) -> str:
    """The largest number on the dial, the usual one to agree to."""
    return f"Dial reads to {number} {count}?"


def turn(number: str) -> str:
    """What a dial that counts one way round counts in a turn."""
    return f"A turn counts {number}?"


def square_at(size: str) -> str:
    """How far above its foot the square's blade meets the bar."""
    return f"Bar meets the square {size} up?"


def sweep(size: str) -> str:
    """The circle that the dial goes round."""
    return f"Sweep {size} across?"


def tolerance(size: str) -> str:
    """How square it should be, over the sweep."""
    return f"Square within {size}?"


def taken(figure: str) -> str:
    """Read a figure back."""
    return f"{figure[:1].upper()}{figure[1:]}."


def kept(name: str) -> str:
    """The machine has its file."""
    return f"Kept as {name}."
