"""The phases of a job and the one table of what may be said in each.

The table is the grammar: the recogniser is armed with a row, so nothing is offered that
is not handled, and a word that is not in the row has one handler that says what can be
said. The first command of a row carries the job on.
"""

from dataclasses import dataclass
from enum import StrEnum

from grammar.offer import Offer
from grammar.scale import Scale


class Phase(StrEnum):
    """Where the job is. The value is what the record and ``listen`` effects show."""

    WHICH = "which machine"
    KIND = "kind of machine"
    WAY = "way of measuring"
    DIAL_UNIT = "dial unit"
    DIAL_FACE = "dial face"
    DIAL_REACH = "dial range"
    SQUARE_AT = "height of square"
    SWEEP_SIZE = "size of sweep"
    SQUARENESS = "squareness"
    UNPLUGGED = "unplugged"
    KEY_OUT = "key out"
    TABLE_HELD = "table held"
    SETUP = "set up"
    DIAMETER = "sweep diameter"
    TOLERANCE = "tolerance"
    SIGN = "sign test"
    SPINDLE = "spindle checked"
    RUNOUT = "runout"
    RUNOUT_SIDE = "side of runout"
    SHAKE = "side shake"
    END_PLAY = "end play"
    QUILL = "quill travel"
    LOCK = "lock"
    SURFACE = "surface"
    RELOCK = "relock"
    SNUG = "snug"
    HARD = "hard"
    ZERO = "zero"
    ROD = "set rod"
    TOUCH_FIRST = "first touch"
    TOUCH_SECOND = "second touch"
    TOUCH_LAST = "last touch"
    SWEEP = "sweep"
    AFRESH = "afresh"
    AGAIN = "again"
    REFIT = "refit"
    LOCK_AGAIN = "lock again"
    DECIDE = "decide"
    LOOSEN = "loosen"
    SHIM = "shim"
    TIGHTEN = "tighten"
    EASE = "ease"
    TAP = "tap"
    TAP_LOCK = "tap lock"
    PIN = "locating pin"
    SNUG_UP = "snug up"
    MOVE = "move"
    CLAMP = "clamp"
    UNBOLT = "unbolt"
    PACK = "shim under"
    BOLT_DOWN = "bolt down"
    OTHER = "other height"
    MOVE_TABLE = "move table"
    FORM = "form"
    CORNERS = "corners"
    HOLLOW = "hollow"
    CLOSE = "close"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Row:
    """One phase of the table.

    ``commands``: the phase's own, the one that carries the job on first. ``readings``:
    called numbers are listened for, be it only to say why they cannot be taken yet.
    ``sizes``: the largest whole number that is called without a sign, in inches and at a
    metric dial. ``loose``: the table is free to move here. ``back``: where "disregard" goes.
    """

    commands: tuple[str, ...]
    readings: bool = False
    stations: bool = True
    shim: bool = False
    sizes: tuple[int, int] = (0, 0)
    loose: bool = False
    back: Phase | None = None


CALLED: tuple[Phase, ...] = (Phase.SWEEP, Phase.TAP, Phase.MOVE, Phase.CLAMP)
"""Phases in which a reading with its sign is called at a station that is known."""

EVERYWHERE: tuple[str, ...] = ("say again", "status", "help", "stand by", "stop")
"""Commands that every open phase offers after its own."""

TABLE: dict[Phase, Row] = {
    Phase.WHICH: Row(("yes", "no")),
    Phase.KIND: Row(("yes", "no")),
    Phase.WAY: Row(("yes", "no", "disregard"), back=Phase.KIND),
    Phase.DIAL_UNIT: Row(("yes", "no", "disregard"), back=Phase.WAY),
    Phase.DIAL_FACE: Row(("yes", "no", "disregard"), back=Phase.DIAL_UNIT),
    Phase.DIAL_REACH: Row(("yes", "no", "disregard"), sizes=(100, 100), back=Phase.DIAL_FACE),
    Phase.SQUARE_AT: Row(("yes", "no", "disregard"), sizes=(40, 600), back=Phase.DIAL_UNIT),
    Phase.SWEEP_SIZE: Row(("yes", "no", "disregard"), sizes=(40, 600), back=Phase.DIAL_UNIT),
    Phase.SQUARENESS: Row(
        ("yes", "no", "disregard"), readings=True, stations=False, back=Phase.SWEEP_SIZE
    ),
    Phase.UNPLUGGED: Row(("yes", "no")),
    Phase.KEY_OUT: Row(("yes", "no", "disregard"), back=Phase.UNPLUGGED),
    Phase.TABLE_HELD: Row(("yes", "no", "disregard"), back=Phase.KEY_OUT),
    Phase.SETUP: Row(("yes", "no", "disregard"), back=Phase.TABLE_HELD),
    Phase.DIAMETER: Row(("skip", "disregard"), sizes=(40, 600), back=Phase.SETUP),
    Phase.TOLERANCE: Row(("skip", "disregard"), readings=True, stations=False, back=Phase.DIAMETER),
    Phase.SIGN: Row(("skip", "disregard"), readings=True, stations=False, back=Phase.SETUP),
    Phase.SPINDLE: Row(("yes", "no", "disregard"), back=Phase.TOLERANCE),
    Phase.RUNOUT: Row(("skip", "disregard"), readings=True, stations=False, back=Phase.SPINDLE),
    Phase.RUNOUT_SIDE: Row(("yes", "no", "skip", "disregard"), back=Phase.RUNOUT),
    Phase.SHAKE: Row(("skip", "disregard"), readings=True, stations=False, back=Phase.RUNOUT),
    Phase.END_PLAY: Row(("skip", "disregard"), readings=True, stations=False, back=Phase.SHAKE),
    Phase.QUILL: Row(("skip", "disregard"), readings=True, back=Phase.END_PLAY),
    Phase.LOCK: Row(("locked", "settle", "disregard"), readings=True, loose=True, back=Phase.SETUP),
    Phase.SURFACE: Row(("done", "skip", "disregard"), readings=True, back=Phase.LOCK),
    Phase.RELOCK: Row(("done", "skip", "disregard"), readings=True, back=Phase.SURFACE),
    Phase.SNUG: Row(("skip", "disregard"), readings=True, back=Phase.RELOCK),
    Phase.HARD: Row(("skip", "disregard"), readings=True, back=Phase.SNUG),
    Phase.ZERO: Row(("zeroed", "settle", "disregard"), readings=True, back=Phase.LOCK),
    Phase.ROD: Row(("done", "settle", "disregard"), readings=True, back=Phase.LOCK),
    Phase.TOUCH_FIRST: Row(("skip", "disregard"), back=Phase.LOCK),
    Phase.TOUCH_SECOND: Row(("skip", "disregard"), back=Phase.TOUCH_FIRST),
    Phase.TOUCH_LAST: Row(("yes", "no", "disregard"), back=Phase.TOUCH_SECOND),
    Phase.SWEEP: Row(("correction", "disregard", "next"), readings=True, back=Phase.ZERO),
    Phase.AFRESH: Row(("yes", "no", "disregard"), back=Phase.SWEEP),
    Phase.AGAIN: Row(("yes", "no", "disregard"), back=Phase.SWEEP),
    Phase.REFIT: Row(("done", "skip", "disregard"), back=Phase.AGAIN),
    Phase.LOCK_AGAIN: Row(("locked", "disregard"), readings=True, loose=True, back=Phase.AGAIN),
    Phase.DECIDE: Row(("yes", "no", "finish", "disregard"), back=Phase.SWEEP),
    Phase.LOOSEN: Row(("done", "skip", "finish", "disregard"), loose=True, back=Phase.SWEEP),
    Phase.SHIM: Row(("done", "skip", "disregard"), shim=True, loose=True, back=Phase.LOOSEN),
    Phase.TIGHTEN: Row(("locked", "disregard"), readings=True, loose=True, back=Phase.SHIM),
    Phase.EASE: Row(("done", "skip", "finish", "disregard"), loose=True, back=Phase.SWEEP),
    Phase.TAP: Row(("done", "disregard"), readings=True, loose=True, back=Phase.EASE),
    Phase.TAP_LOCK: Row(("locked", "disregard"), readings=True, loose=True, back=Phase.TAP),
    Phase.PIN: Row(("done", "disregard"), loose=True, back=Phase.SWEEP),
    Phase.SNUG_UP: Row(("done", "skip", "finish", "disregard"), loose=True, back=Phase.SWEEP),
    Phase.MOVE: Row(("done", "disregard"), readings=True, loose=True, back=Phase.SNUG_UP),
    Phase.CLAMP: Row(("locked", "disregard"), readings=True, loose=True, back=Phase.MOVE),
    Phase.UNBOLT: Row(("done", "skip", "finish", "disregard"), loose=True, back=Phase.SWEEP),
    Phase.PACK: Row(("done", "disregard"), shim=True, loose=True, back=Phase.UNBOLT),
    Phase.BOLT_DOWN: Row(("locked", "disregard"), readings=True, loose=True, back=Phase.PACK),
    Phase.OTHER: Row(("yes", "no", "disregard"), back=Phase.DECIDE),
    Phase.MOVE_TABLE: Row(("locked", "disregard"), readings=True, loose=True, back=Phase.OTHER),
    Phase.FORM: Row(("yes", "no", "disregard"), back=Phase.SWEEP),
    Phase.CORNERS: Row(("skip", "disregard"), readings=True, back=Phase.FORM),
    Phase.HOLLOW: Row(("skip", "disregard"), readings=True, stations=False, back=Phase.CORNERS),
    Phase.CLOSE: Row(("done", "disregard"), back=Phase.SWEEP),
    Phase.CLOSED: Row(()),
}


INTRODUCTION: frozenset[Phase] = frozenset(
    {
        Phase.WHICH,
        Phase.KIND,
        Phase.WAY,
        Phase.DIAL_UNIT,
        Phase.DIAL_FACE,
        Phase.DIAL_REACH,
        Phase.SQUARE_AT,
        Phase.SWEEP_SIZE,
        Phase.SQUARENESS,
    }
)
"""Before a job, when no machine was named; none of it is in the record."""

WEIGHTY: dict[str, tuple[Phase, ...]] = {
    "stop": tuple(Phase),
    "finish": tuple(phase for phase in Phase if phase is not Phase.DECIDE),
    "skip": (Phase.LOOSEN, Phase.SHIM, Phase.EASE, Phase.SNUG_UP, Phase.UNBOLT),
}
"""Commands that end something, and where they are asked before they are done."""


def is_weighty(phase: Phase, name: str) -> bool:
    """Tell whether a command is asked before it is done in this phase."""
    return phase in WEIGHTY.get(name, ())


def offer(phase: Phase, scale: Scale) -> Offer:
    """What is listened for in a phase at this indicator."""
    row = TABLE[phase]
    return Offer(
        scale,
        (*row.commands, *EVERYWHERE),
        readings=row.readings,
        stations=row.stations,
        shim=row.shim,
        sizes=row.sizes[scale.system == "mm"],
        zeroing="zeroed" in row.commands,
    )
