"""What each procedure knows: one record of plain frozen data each, for the state.

In counts of the scale unless said otherwise. What is done with it stands with the procedure.
"""

from dataclasses import dataclass, replace
from decimal import Decimal
from math import inf, sqrt

from assistant.dialogue.machine import Profile
from assistant.metrology.causes import Miss
from assistant.metrology.exchanges import Exchange
from assistant.metrology.lengths import Length
from assistant.metrology.t_distribution import coverage_factor
from assistant.metrology.touching import Round
from grammar.meaning import Meaning
from grammar.scale import Scale
from grammar.vocabulary import Station


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a shim did to this machine at an earlier job.

    ``kind``: of the plan that it was learnt for. ``value``: change of the difference per unit of
    shim over the sweep diameter ``over``, with its standard uncertainty. ``at``: when, which was
    ``days`` ago.
    """

    kind: str
    value: float
    uncertainty: float
    over: Length
    days: float
    at: str


@dataclass(frozen=True, slots=True)
class LastJob:
    """How the last job of this machine left it, as the record tells it; in counts of its scale now.

    ``at``: when that was, ``day`` as it is spoken: "Monday", "three weeks ago". ``finished``: it
    was gone through to its end. ``tilt``: of its last sweep, None inside the noise; ``within``: the
    tolerance that it was proven within, None for none. ``square_day``: when it was last left
    square, empty for never or on ``day`` itself. ``shim``: what is in at the tilt bolt, above it
    positive; ``under_back``, ``under_left``: under the feet. ``learnt``: what shims did.
    """

    at: str
    day: str
    finished: bool = True
    tilt: float | None = None
    within: Length | None = None
    square_day: str = ""
    shim: Decimal = Decimal(0)
    under_back: Decimal = Decimal(0)
    under_left: Decimal = Decimal(0)
    learnt: tuple[Learnt, ...] = ()


@dataclass(frozen=True, slots=True)
class ShimTrial:
    """What a change of the shim did to front minus back; in counts, above the bolt positive.

    ``side_before``, ``side_after``: right minus left at the same times.
    """

    shim_before: Decimal
    shim_after: Decimal
    before: float
    after: float
    side_before: float | None = None
    side_after: float | None = None


@dataclass(frozen=True, slots=True)
class Shims:
    """The shim at the tilt bolt: the signed ``total`` that is in, above the bolt positive, and
    what changes of it did. ``did_nothing``: how often running a change that was to show did not;
    ``wrong_way``: the last of them moved the front the wrong way."""

    total: Decimal = Decimal(0)
    trials: tuple[ShimTrial, ...] = ()
    did_nothing: int = 0
    wrong_way: bool = False


@dataclass(frozen=True, slots=True)
class TapDone:
    """What a tap did: change of the dial at the watched station, right minus left before and
    after; in counts. ``front_before``, ``front_after``: front minus back at the same times."""

    change: Decimal
    before: float
    after: float
    front_before: float | None = None
    front_after: float | None = None


@dataclass(frozen=True, slots=True)
class Taps:
    """The last dial reading called while tapping, since the last sweep, and what taps did.

    ``did_nothing``: how often running a tap that was to show did not. ``pull``: what locking
    does to the height at the watched station, as ``pulls`` show it, each read before and after
    locking, or else the sweeps after taps. ``still``: readings running, from ``stood`` on, that
    came hardly nearer the aim.

    Of the tap under way, with the dial: ``start``, what it showed before anything was loosened,
    and ``goal``, what it is to show locked; ``locked``, what it was called to show then, and
    ``tries``, how often that was.
    """

    reading: Decimal | None = None
    done: tuple[TapDone, ...] = ()
    did_nothing: int = 0
    stood: Decimal | None = None
    still: int = 0
    pull: float = 0.0
    pulls: tuple[float, ...] = ()
    start: Decimal | None = None
    goal: Decimal | None = None
    locked: Decimal | None = None
    tries: int = 0

    @property
    def at_rest(self) -> "Taps":
        """What is known of taps, with none under way."""
        return replace(
            self, reading=None, stood=None, still=0, start=None, goal=None, locked=None, tries=0
        )


@dataclass(frozen=True, slots=True)
class Reread:
    """The dial at the watched station, read once more before anything is moved there.

    ``value``: as it counts; ``doubted``: one that did not fit the sweep and was asked again.
    """

    value: Decimal | None = None
    doubted: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Causes:
    """What was read otherwise than forecast, since something was last told to be ``loose``, and how
    often that was. ``before``: whether a sweep before was told to have been read with sides
    exchanged."""

    misses: tuple[Miss, ...] = ()
    loose: int = 0
    before: bool = False


@dataclass(frozen=True, slots=True)
class MoveDone:
    """What a move of one axis did.

    ``change``: of the dial at the watched station, from clamped to clamped; ``before``,
    ``after``: front minus back where the front was watched, right minus left at the right.
    """

    watch: Station
    change: Decimal
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Pull:
    """What tightening did once to the dial at the watched station."""

    watch: Station
    counts: Decimal


@dataclass(frozen=True, slots=True)
class Moving:
    """Both axes set by moving the head (or a free table) while the dial is watched.

    ``moves``, ``pulls``: learnt so far. Of the move under way: ``start``, the dial at the
    watched station before it; ``goal``, what it should show clamped; ``reading``, the last
    one called while snug; ``tight``, the one called after tightening; ``tries``: how often
    it was tightened.
    """

    moves: tuple[MoveDone, ...] = ()
    pulls: tuple[Pull, ...] = ()
    start: Decimal = Decimal(0)
    goal: Decimal = Decimal(0)
    reading: Decimal | None = None
    tight: Decimal | None = None
    tries: int = 0

    def pull_at(self, watch: Station) -> Decimal:
        """What tightening is known to do there; zero before it was seen."""
        return next((pull.counts for pull in self.pulls if pull.watch == watch), Decimal(0))


@dataclass(frozen=True, slots=True)
class SpindleChecks:
    """What the checks of the spindle before a sweep found; None for what was not checked.

    In counts. ``near``, ``far``: full swing of a dial that stands still while the bar turns, by
    the chuck and ``apart`` further down; ``same_side``: whether both are high at the same side.
    ``shake``: full swing when the bar is pushed and pulled sideways. ``lifted``: how far it
    goes up, ``stays``: how much of that is left when it is let go. ``back``, ``right``: dial
    against a square's blade behind the tip (and right of it) after the quill went down by
    ``depth``, from zero; positive: it runs that way.
    """

    near: Decimal | None = None
    far: Decimal | None = None
    same_side: bool | None = None
    shake: Decimal | None = None
    lifted: Decimal | None = None
    stays: Decimal | None = None
    back: Decimal | None = None
    right: Decimal | None = None

    @staticmethod
    def apart(scale: Scale) -> Length:
        """From the one place along the bar to the other."""
        return Length.of(4, "in") if scale.system == "thou" else Length.of(100, "mm")

    @staticmethod
    def depth(scale: Scale) -> Length:
        """How far the quill goes down along the square: what any quill has."""
        return Length.of(2, "in") if scale.system == "thou" else Length.of(50, "mm")


@dataclass(frozen=True, slots=True)
class Touch:
    """Rounds by touch, in order, and of the one under way what dragged first and second."""

    rounds: tuple[Round, ...] = ()
    first: Station | None = None
    second: Station | None = None


@dataclass(frozen=True, slots=True)
class PackTrial:
    """What a change of the shim under one side did to the difference of its axis; in counts."""

    shim_before: Decimal
    shim_after: Decimal
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Packing:
    """Shims under the feet, in counts.

    ``under_back``: under the back, under the front negative; ``under_left``: under the left,
    under the right negative. ``lengthwise``, ``sides``: what changes of either did.
    """

    under_back: Decimal = Decimal(0)
    under_left: Decimal = Decimal(0)
    lengthwise: tuple[PackTrial, ...] = ()
    sides: tuple[PackTrial, ...] = ()


@dataclass(frozen=True, slots=True)
class OtherHeights:
    """Sweeps at other heights or swings of the table, after the job at the first one.

    ``under_way``: the sweep that is being taken is one of them. ``moved``: the table was
    moved away from where it was squared, so that nothing can be corrected there without a
    new sweep.
    """

    under_way: bool = False
    moved: bool = False


BELIEVED = 0.99
"""Of the noise of a form's saddle and twist, what they must stand out of to be told."""


@dataclass(frozen=True, slots=True)
class FormFound:
    """The table's form over the sweep, in counts, beside its tilt by eight stations.

    ``saddle``: how far front and back stand over right and left; ``twist``: how far the
    corners back right and front left stand over the other two; ``u``: the standard
    uncertainty of either, known to ``dof`` degrees of freedom. ``hollow``: the gap under a straight
    edge, None if not looked for.
    """

    front_minus_back: float
    right_minus_left: float
    saddle: float
    twist: float
    u: float
    hollow: Decimal | None = None
    dof: float = inf

    @property
    def clear(self) -> float:
        """From where on a term is believed: readings alone pass it once in a hundred forms."""
        return self.u * coverage_factor(self.dof, BELIEVED)

    @property
    def dished(self) -> bool:
        """Whether the gap is more than a table without form may have by its roughness.

        Under the edge lie two spots and one between them: their scatter is sqrt 1.5 of one spot's.
        """
        return self.hollow is not None and float(self.hollow) > sqrt(1.5) * self.clear


@dataclass(frozen=True, slots=True)
class FormSweep:
    """Four more stations between the four of the last sweep, for the table's form.

    ``due``: to be offered at the next advice. ``corners``: called so far, in their order;
    ``found``: what it came to; ``declined``: not wanted in this job. ``further``: it was
    offered to somebody who did not want to finish, and who goes on to correct. ``for_tilt``: the
    corners are read to know the tilt better, and not the form.
    """

    due: bool = False
    further: bool = False
    corners: tuple[Decimal, ...] = ()
    found: FormFound | None = None
    declined: bool = False
    for_tilt: bool = False


@dataclass(frozen=True, slots=True)
class Measuring:
    """Measuring the surface's noise in passing, between a sweep and what is made of it.

    ``asked``: it was asked for in this job, and is not asked for again. ``in_passing``: it is
    under way, so that the job goes on with the sweep there is.
    """

    asked: bool = False
    in_passing: bool = False


@dataclass(frozen=True, slots=True)
class Again:
    """Sweeping the same table more than once.

    ``refitted``: the bar now sits half a turn round from where it sat at first. ``declined``:
    the person wants no repeat of this table. ``afresh``: a sweep that would not fit was
    thrown away, so that the next one is taken as it comes. ``further``: how often every spot was
    moved on, each time as far as ``spots_further`` has it.
    """

    refitted: bool = False
    declined: bool = False
    afresh: bool = False
    further: int = 0


@dataclass(frozen=True, slots=True)
class Introduction:
    """Which machine it is, while that is being asked.

    ``known``: the names of machines that have a file, likeliest first. ``kinds``: what a new
    one may start from, each with an inch dial and with a metric one. ``at``: the one of
    either that is asked about, ``way`` the way of measuring.
    """

    known: tuple[str, ...] = ()
    kinds: tuple[tuple[Profile, Profile], ...] = ()
    at: int = 0
    way: int = 0


@dataclass(frozen=True, slots=True)
class Doubts:
    """What is doubted of the sweep that is being taken.

    ``again``: the station that is asked again; ``instead``: what it may have been.
    ``read_again``: stations that were read again because they did not fit, so that the same
    one is not asked for ever. ``drift_repeats``: sweeps running that did not come back to zero.
    ``sides``: those that may have changed places, one of which is asked for once more;
    ``sides_sure``: it was, and they had not; ``first_shows``: the dial at the first station, if it
    was read there once more after the sweep.
    """

    again: Station | None = None
    instead: Decimal | None = None
    read_again: tuple[Station, ...] = ()
    drift_repeats: int = 0
    sides: Exchange | None = None
    sides_sure: bool = False
    first_shows: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Hearing:
    """What was not understood lately.

    ``misses``: calls running; ``talk``: pieces of other people's talk running, both since
    something was clear or nothing was heard for a while. ``half_heard``: what was heard last and
    not surely, and the doubt that all hearings of it leave, 0 to 1.
    """

    misses: int = 0
    talk: int = 0
    half_heard: Meaning | None = None
    half_doubt: float = 1.0


@dataclass(frozen=True, slots=True)
class Calls:
    """Calls by voice, each named by the turn in which it was heard.

    ``half``: of what was heard last and not surely; ``asked``: of what the open question is about;
    ``taken``: of what was taken last and can still be taken back.
    """

    half: tuple[int, ...] = ()
    asked: tuple[int, ...] = ()
    taken: tuple[int, ...] = ()
