"""The state of a job: frozen data, rebuilt at any time by folding its events."""

from dataclasses import dataclass, field, fields, replace
from decimal import Decimal
from typing import Any

from assistant.dialogue.facts import (
    Again,
    Calls,
    Causes,
    Doubts,
    FormSweep,
    Hearing,
    Introduction,
    LastJob,
    Measuring,
    Moving,
    OtherHeights,
    Packing,
    Reread,
    Shims,
    SpindleChecks,
    Taps,
    Touch,
)
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Channel, Device, Step
from assistant.dialogue.phases import Phase
from assistant.metrology.answer import Answer
from assistant.metrology.response import Response
from grammar.meaning import Command, Hypothesis, Place, Reading, Shim
from grammar.vocabulary import Station

FRONT_BACK = "front to back"
SIDES = "side to side"

NOD, TILT = "nod", "tilt"
PACK_LENGTHWISE, PACK_SIDES = "pack front to back", "pack side to side"
"""Kinds of plan that are named in more than one place, one for each axis."""

SETTLED_AT: Station = "right"
"""Where relocking and the pull of the lock are read: a side moves with both tilts."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading that was accepted and read back; ``value`` in counts, signed.

    ``closing``: the first station read a second time. ``zeroed``: the dial was set to zero
    here, nothing was called. ``order``: counts the readings of a sweep as they were taken,
    a replacement counts again. ``no_go``: by leaves, the thinnest stack that does not go where
    ``value`` does; None where ``value`` fits just so. A rod that was set to a leaf at the first
    station counts as ``zeroed`` there, ``value`` being the leaf.
    """

    sweep: int
    station: Station
    value: Decimal
    at: str
    source: str = "voice"
    confidence: float = 1.0
    alternatives: tuple[Hypothesis, ...] = ()
    closing: bool = False
    zeroed: bool = False
    order: int = 0
    no_go: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Undone:
    """A reading that was taken back, with the reason ("correction", "disregard", ...)."""

    taken: Taken
    at: str
    reason: str


@dataclass(frozen=True, slots=True)
class AskSign:
    """A number came without its sign: "plus or minus six?"."""

    reading: Reading
    words: str
    confidence: float
    alternatives: tuple[Hypothesis, ...] = ()


@dataclass(frozen=True, slots=True)
class AskReading:
    """A doubtful reading is asked: yes takes ``candidates[0]``, no goes to the next."""

    candidates: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class AskGoOn:
    """After a restart: go on with this job of some ``day``, and is the machine still unplugged?"""

    unplugged: bool = False
    day: str = ""


@dataclass(frozen=True, slots=True)
class AskUntouched:
    """After a restart in the middle of a sweep: do the readings that were taken still hold?"""


@dataclass(frozen=True, slots=True)
class AskNoGo:
    """Which leaf does not go where the one called does? ``done`` leaves it at the next leaf."""

    station: Station


@dataclass(frozen=True, slots=True)
class AskShim:
    """Hundredths or millimetres? Yes takes ``candidates[0]``, no goes to the next."""

    candidates: tuple[Shim, ...]


AskedOf = AskSign | AskReading | AskGoOn | AskUntouched | AskNoGo | AskShim


@dataclass(frozen=True, slots=True)
class AskCommand:
    """A doubtful or weighty command is asked before it is done."""

    command: Command
    beneath: AskedOf | None = None
    """The question that was open before, and is again after a no."""


Pending = AskedOf | AskCommand


@dataclass(frozen=True, slots=True)
class Plan:
    """The correction being made and what it should do.

    ``kind``: the name that its correction gives it. ``expected_fb``, ``expected_rl``:
    predicted front minus back and right minus left after it, in counts. ``shim_before``: the
    signed total before. ``given_up``: it was begun, and left again before it was made.
    ``response``: what its kind of change does to its axis, as far as that is known; None: as well
    as hands do it.
    """

    kind: str
    step: Step
    expected_fb: float
    expected_rl: float
    shim_before: Decimal
    given_up: bool = False
    response: Response | None = None


@dataclass(frozen=True, slots=True)
class Before:
    """What was known when a sweep began, so that taking back its last reading restores it.

    Every field is one of ``State`` by the same name and type: what a further procedure learns
    from a sweep is one more line here.
    """

    plan: Plan | None = None
    shims: Shims = field(default_factory=Shims)
    taps: Taps = field(default_factory=Taps)
    moving: Moving = field(default_factory=Moving)
    again: Again = field(default_factory=Again)
    packing: Packing = field(default_factory=Packing)
    causes: Causes = field(default_factory=Causes)

    @staticmethod
    def of(state: "State") -> "Before":
        """What this state knows."""
        return Before(**_same_fields(state))

    def restored(self, state: "State") -> "State":
        """The state with what was known then."""
        return replace(state, **_same_fields(self))


def _same_fields(source: "Before | State") -> dict[str, Any]:
    return {each.name: getattr(source, each.name) for each in fields(Before)}


@dataclass(frozen=True, slots=True)
class CompletedSweep:
    """A completed sweep with the answer of all sweeps of the table as it then stood.

    ``corners``: readings between its stations, in the order of the sweep, from the same zero, and
    the first station once more; empty where they were not read for the tilt.
    ``refused``: why it was not used, or empty. ``place``: the other height or swing that it
    was taken at, empty where the job is done: such a one is compared and not built on.
    """

    number: int
    readings: tuple[Taken, ...]
    answer: Answer
    refused: str = ""
    before: Before = field(default_factory=Before)
    place: str = ""
    corners: tuple[Decimal, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether the answer may be built on."""
        return not self.refused and not self.place


@dataclass(frozen=True, slots=True)
class State:
    """Everything that the job knows: what all procedures share, and what each one knows.

    Shared: ``awaited``, the station whose reading is wanted now; ``undone``, the readings that
    were taken back last (those before are in the events only, so that a state does not grow);
    ``plan``, the correction being made, and ``axis_left_out``, the axes that are not to be
    corrected; ``loosened``, whether the hands have loosened what holds the table, and have not
    tightened it since. Of the conversation: ``pending``, a question of its own that is open;
    ``by``, how the last answer came, so that the next question fits a voice or a hand on the keys;
    ``last_said``, and ``to_repeat``, what is said again for the asking; ``between_marks``, a number
    finer than the dial that was not taken; ``entry``, keys typed and not yet entered; ``short``,
    whether prompts are in few words, ``quiet``, whether they are read and not spoken; ``notes``,
    what the person wanted kept with the job; ``hearing``, what was not understood; ``calls``, of
    what it may still turn out whether it was heard rightly; ``lost``, devices that do not work.

    One for each procedure: ``last``, how the job before left the machine, None where nothing is
    to be built on it, and ``shims_told``, the kinds of plan whose shim was asked about since;
    ``settling``, readings of the noise that is being measured; ``rod``, the leaf that the bent rod
    is set to at the first station, None for the usual one; ``pin_out``, whether the locating pin
    was taken out; the others as in ``facts``.
    """

    job: str
    profile: Profile
    phase: Phase
    turn: int = 1
    awaited: Station | None = None
    readings: tuple[Taken, ...] = ()
    sweeps: tuple[CompletedSweep, ...] = ()
    undone: tuple[Undone, ...] = ()
    plan: Plan | None = None
    axis_left_out: tuple[str, ...] = ()
    loosened: bool = False

    pending: Pending | None = None
    by: Channel = "voice"
    last_said: str = ""
    to_repeat: str = ""
    entry: str = ""
    between_marks: Decimal | None = None
    hearing: Hearing = field(default_factory=Hearing)
    calls: Calls = field(default_factory=Calls)
    too_loud: bool = False
    lost: tuple[Device, ...] = ()
    standing_by: bool = False
    stopped: bool = False
    short: bool = False
    quiet: bool = False
    notes: tuple[str, ...] = ()

    introduction: Introduction | None = None
    last: LastJob | None = None
    shims_told: tuple[str, ...] = ()
    spindle: SpindleChecks = field(default_factory=SpindleChecks)
    settling: tuple[Decimal, ...] = ()
    measuring: Measuring = field(default_factory=Measuring)
    doubts: Doubts = field(default_factory=Doubts)
    rod: Decimal | None = None
    touch: Touch = field(default_factory=Touch)
    again: Again = field(default_factory=Again)
    pin_out: bool = False
    shims: Shims = field(default_factory=Shims)
    taps: Taps = field(default_factory=Taps)
    moving: Moving = field(default_factory=Moving)
    reread: Reread = field(default_factory=Reread)
    packing: Packing = field(default_factory=Packing)
    causes: Causes = field(default_factory=Causes)
    heights: OtherHeights = field(default_factory=OtherHeights)
    form: FormSweep = field(default_factory=FormSweep)

    @property
    def sweep_number(self) -> int:
        """The number of the sweep that is being taken, from 1."""
        return len(self.sweeps) + 1

    @property
    def usable_sweeps(self) -> tuple[CompletedSweep, ...]:
        """The sweeps whose answers may be built on, in order."""
        return tuple(sweep for sweep in self.sweeps if sweep.usable)

    @property
    def same_table(self) -> tuple[CompletedSweep, ...]:
        """The sweeps since the table was last moved, in order."""
        usable = self.usable_sweeps
        return self.together_with(usable[-1]) if usable else ()

    def together_with(self, last: CompletedSweep) -> tuple[CompletedSweep, ...]:
        """The usable sweeps of the table as it stood at this one, up to it, whose answer it has."""
        usable = tuple(sweep for sweep in self.usable_sweeps if sweep.number <= last.number)
        moved = [k for k, sweep in enumerate(usable) if self.moved_before(sweep)]
        return usable[moved[-1] :] if moved else usable

    @property
    def found(self) -> CompletedSweep | None:
        """The last sweep of the table as it was found: its answer is that of all of them."""
        usable = self.usable_sweeps
        moved = [k for k, sweep in enumerate(usable) if k and self.moved_before(sweep)]
        as_it_was = usable[: moved[0]] if moved else usable
        return as_it_was[-1] if as_it_was else None

    @property
    def as_found(self) -> Answer | None:
        """The answer of all sweeps before the table was moved."""
        return self.found.answer if self.found else None

    @property
    def as_left(self) -> Answer | None:
        """The answer of all sweeps since the table was last moved."""
        return self.usable_sweeps[-1].answer if self.usable_sweeps else None

    @property
    def shim_unswept(self) -> bool:
        """Whether another shim is in than at the last sweep that counts."""
        swept = self.usable_sweeps
        return bool(swept) and self.shims.total != swept[-1].before.shims.total

    @property
    def refit_due(self) -> bool:
        """Whether the next repeat is to be made with the bar half a turn round in the chuck.

        From the second repeat on, unless sweeps both ways round are there already, or the table is
        so rough that other spots tell more: a sweep with the bar turned has to tell what the
        spindle adds once a turn, too.
        """
        made, answer = self.same_table, self.as_left
        if answer is None or len(made) < 2:
            return False
        largest = answer.budget.tilt.largest
        rough = largest is not None and largest.source in ("surface", "form")
        return not rough and len({sweep.before.again.refitted for sweep in made}) == 1

    @property
    def further(self) -> int:
        """How often the spots were moved on for the sweep that is being taken."""
        return 0 if self.plan is not None or self.came_back else self.again.further

    def further_of(self, sweep: CompletedSweep) -> int:
        """The same for a sweep that was taken; where the table was moved, it starts over."""
        return 0 if self.moved_before(sweep) else sweep.before.again.further

    def moved_before(self, sweep: CompletedSweep) -> bool:
        """Whether the table was moved before this sweep, by a correction or to another place."""
        return sweep.before.plan is not None or self._back(sweep)

    def as_sweep(self, answer: Answer, refused: str = "") -> CompletedSweep:
        """The readings taken, as a completed sweep with its answer."""
        return CompletedSweep(
            self.sweep_number,
            self.readings,
            answer,
            refused=refused,
            before=Before.of(self),
            place=self._place if self.heights.under_way else "",
        )

    def begun_with(self, *readings: Taken) -> "State":
        """A sweep that has these readings only; no station of it is asked again."""
        begun = Doubts(drift_repeats=self.doubts.drift_repeats)
        return replace(self, readings=readings, doubts=begun, reread=Reread())

    def kept(self, sweep: CompletedSweep) -> "State":
        """This sweep is one of the job's; nothing of the next one is read yet."""
        repeats = self.doubts.drift_repeats if sweep.refused else 0
        sure = self.doubts.sides_sure and not sweep.refused
        begun = Doubts(drift_repeats=repeats, sides_sure=sure)
        return replace(self.begun_with(), sweeps=(*self.sweeps, sweep), doubts=begun)

    @property
    def came_back(self) -> bool:
        """Whether the table was at another place since it was last swept here."""
        return self._back_for(self.sweep_number)

    def _back(self, sweep: CompletedSweep) -> bool:
        """Whether the table came back from another place for this sweep, and lies differently."""
        return self._back_for(sweep.number)

    def _back_for(self, number: int) -> bool:
        before = [old for old in self.sweeps[: number - 1] if not old.refused]
        return bool(before and before[-1].place)

    @property
    def _place(self) -> str:
        """What the next other place is called; the first one is where the job is done."""
        named = {sweep.place for sweep in self.sweeps if sweep.place and not sweep.refused}
        return f"place {len(named) + 2}"

    def elsewhere(self, called: Reading) -> Station | None:
        """The station that this reading names, if it is another than is awaited."""
        return None if called.station == self.awaited else called.station

    def called(self, station: Station) -> Taken | None:
        """What was called at a station in this sweep: at the first one, to close it."""
        for taken in self.readings:
            if taken.station == station and not taken.zeroed:
                return taken
        return None

    def taken(self, station: Station) -> Taken | None:
        """The reading of this sweep at a station, the closing one aside."""
        for taken in self.readings:
            if taken.station == station and not taken.closing:
                return taken
        return None


@dataclass(frozen=True, slots=True)
class ShimInPlace:
    """A shim as it is spoken of: a total without sign and a side of the bolt."""

    total: Decimal
    place: Place | None


def shim_in_place(signed: Decimal) -> ShimInPlace:
    """Split a signed total (above the bolt positive) into amount and side.

    >>> shim_in_place(Decimal("-3"))
    ShimInPlace(total=Decimal('3'), place='below')
    """
    if signed == 0:
        return ShimInPlace(Decimal(0), None)
    return ShimInPlace(abs(signed), "above" if signed > 0 else "below")
