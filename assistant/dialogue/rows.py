"""One row for each phase: what is asked there, what may be answered and what follows.

The rows are the grammar, too: the recogniser is armed with a row, so nothing is offered that
is not handled, and what a row does not list is refused by the door.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Final, Literal

from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Heard, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.state import State
from assistant.dialogue.turn import Outcome, Turn, done, go
from assistant.dialogue.wording import THEN_ENTER, say_word
from grammar.meaning import Reading, Shim, Side, Sign, Size
from grammar.offer import Offer
from grammar.scale import Scale
from grammar.vocabulary import Station

EVERYWHERE: tuple[str, ...] = ("say again", "status", "help", "stand by", "stop")
"""Commands that every open phase offers after its own."""

BY_HAND: Final = ("done", "locked", "zeroed")
"""What hands have done, which is told by its own word; asked for it, people say these, too:"""

AGREED: Final = ("yes", "done")

Action = Callable[[State, Heard], Turn]
"""Does a command."""

Leads = Phase | Outcome | Action
"""What a command leads to: a phase of the same procedure, what the job makes of it, or more."""

LeftToDo = Literal["correct", "tighten", "sweep", "repeat", "finish"]
"""What a job that is left in a phase still needs, first of all. correct: the correction that was
told is to be made. tighten: it was made, and is not tight yet. sweep: all is tight, and a sweep is
under way or about to begin. repeat: another sweep, to be surer. finish: nothing but the end."""

OnNumber = Callable[[State, Reading, Heard], Turn]


@dataclass(frozen=True, slots=True)
class Row:
    """One phase.

    ``headline``: one word, read from across the shop. ``ask``: the question. ``on``: the
    commands and what each does, the one that carries the job on first, "disregard" with what
    it takes back. ``at_times``: commands offered before those while ``when`` holds;
    ``withheld``: commands of ``on`` that would do nothing now. ``weighty``: those asked about
    before they are done. ``instead``: commands that people say here in place of the one that
    carries on, beside those that are said everywhere where it is a word for what hands have done.

    ``on_reading``: what a number read at the rig does, once its sign and its place on the face
    are known; ``doubt`` says whether a doubtful one is asked about ("call"), only its unit
    ("unit"), or neither. ``on_number``: what any other number does, as it was called. ``on_size``,
    ``on_shim``, ``on_side``, ``on_sign``: likewise; what is None is refused.

    ``readings``: numbers are listened for, be it only to say why they cannot be taken yet.
    ``stations``: they may name one. ``sizes``: the largest whole number that is called without
    a sign, in inches and at a metric dial. ``changes``: likewise of a sweep that is wished for by
    its name, as a tolerance may be there. ``named``: what a wish would call the size that is
    asked for, which then is an answer. ``as_dial``: numbers are those of the rig, with its
    signs and its face; else plain ones. ``station``: whose reading is wanted;
    ``expected``: what one should be near, where the face alone does not tell. ``loose``: the
    table is free to move here. ``last_seen``: what the dial was seen to show last, where it is
    watched at that station while something is moved; a row without is no such phase.
    ``coaching``: how far there is still to go, once it was read.

    ``step``: what the person does with their hands on entering, for the record. ``shows``:
    the digits that matter now and what they are. ``short``: the question for those who know
    the job; None where it is short as it is; ``in_full``: that one for whoever did not get it,
    where ``ask`` has other answers. ``wishes``: those that are listened for here; typed they are
    done anywhere. ``left``: what is still to be done where a job is left here. ``how``:
    how it is done, for whoever asks for help.
    """

    phase: Phase
    headline: str | Callable[[State], str]
    ask: str | Callable[[State], str]
    on: Mapping[str, Leads] = field(default_factory=dict)
    at_times: Mapping[str, Leads] = field(default_factory=dict)
    when: Callable[[State], bool] = lambda _: False
    withheld: Callable[[State], tuple[str, ...]] = lambda _: ()
    weighty: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()
    on_reading: OnNumber | None = None
    doubt: Literal["call", "unit", "none"] = "call"
    on_number: OnNumber | None = None
    on_size: Callable[[State, Size], Turn] | None = None
    on_shim: Callable[[State, Shim], Turn] | None = None
    on_side: Callable[[State, Side], Turn | None] | None = None
    on_sign: Callable[[State, Sign], Turn] | None = None
    readings: bool = False
    stations: bool = True
    sizes: tuple[int, int] = (0, 0)
    changes: tuple[int, int] = (0, 0)
    named: Literal["", "sweep", "tolerance"] = ""
    as_dial: bool = True
    station: Callable[[State], Station | None] = lambda _: None
    expected: Callable[[State, Station | None], Decimal | None] = lambda *_: None
    loose: bool = False
    last_seen: Callable[[State], Decimal | None] | None = None
    coaching: Callable[[State], str] | None = None
    step: Step | Callable[[State], Step | Sequence[Step] | None] | None = None
    shows: Callable[[State], tuple[str, str]] = lambda _: ("", "")
    short: str | Callable[[State], str] | None = None
    in_full: Callable[[State], str] | None = None
    wishes: tuple[str, ...] = ()
    left: LeftToDo = "finish"
    how: str | Callable[[State], str] = ""

    @property
    def commands(self) -> tuple[str, ...]:
        """The phase's own commands, the one that carries on first."""
        return tuple(self.on)

    def question(self, state: State) -> str:
        """The words that are asked here."""
        asked, told = self._words(state), say_word(next(iter(self.on), ""))
        if state.by == "keypad" and asked.endswith(told):
            return f"{asked.removesuffix(told)}{THEN_ENTER}"
        return asked

    def _words(self, state: State) -> str:
        asked = self.short if state.short and self.short is not None else self.ask
        return asked if isinstance(asked, str) else asked(state)

    def headline_of(self, state: State) -> str:
        """The one word that is read from across the shop."""
        return self.headline if isinstance(self.headline, str) else self.headline(state)

    def how_to(self, state: State) -> str:
        """How what is asked is done."""
        return self.how if isinstance(self.how, str) else self.how(state)

    def steps_of(self, state: State) -> Sequence[Step]:
        """What the hands do on entering, in this order."""
        told = self.step(state) if callable(self.step) else self.step
        if told is None:
            return ()
        return (told,) if isinstance(told, Step) else told

    def offer(self, scale: Scale) -> Offer:
        """What is listened for at this indicator, whatever the state."""
        return Offer(
            scale,
            (*self.commands, *self.wishes, *EVERYWHERE),
            readings=self.readings,
            stations=self.stations,
            signs=self.on_sign is not None,
            shim=self.on_shim is not None,
            sizes=self.sizes[scale.system == "mm"],
            sides=self.on_side is not None,
            zeroing="zeroed" in self.on,
            changes=self.changes[scale.system == "mm"],
        )

    def offer_now(self, state: State) -> Offer:
        """The same with what is offered at times only."""
        now = self.offer(state.profile.scale)
        first = tuple(self.at_times) if self.when(state) else ()
        withheld = (*self.withheld(state), "quiet" if state.quiet else "talk")
        commands = tuple(name for name in now.commands if name not in withheld)
        # Whoever made it quiet by voice must be able to end that by voice.
        aloud = ("talk",) if state.quiet else ()
        offered = (*first, *commands, *aloud)
        said = (*(AGREED if self._asks_for(offered[0], state) else ()), *self.instead)
        instead = tuple(name for name in dict.fromkeys(said) if name not in offered)
        # Under plain feet the side is told; a tilt bolt has shims above it or below.
        places = not now.shim or state.profile.kind in SHIMMED
        return replace(now, commands=offered, instead=instead, shim_places=places)

    def _asks_for(self, name: str, state: State) -> bool:
        """Whether the question wants a word for what hands have done: this one."""
        return name in BY_HAND and self._words(state).endswith(("?", say_word(name)))

    def leads(self, name: str) -> Leads | None:
        """What a command leads to; None for one that does nothing here."""
        return self.on.get(name) or self.at_times.get(name)


def follow(leads: Leads, state: State, heard: Heard) -> Turn:
    """Do what a command leads to."""
    if isinstance(leads, Phase):
        return go(state, leads)
    if isinstance(leads, Outcome):
        return done(state, leads)
    return leads(state, heard)


@dataclass(frozen=True, slots=True)
class Procedure:
    """Rows that belong together.

    ``due``: whether the job comes through here by itself, in its order; else it is sent here.
    ``first``: the phase that it begins with, that of its first row if None.
    """

    rows: tuple[Row, ...]
    due: Callable[[State], bool] = lambda _: False
    first: Phase | None = None

    @property
    def phases(self) -> frozenset[Phase]:
        """All of its phases."""
        return frozenset(row.phase for row in self.rows)

    @property
    def begins(self) -> Phase:
        """The phase that it begins with."""
        return self.first if self.first is not None else self.rows[0].phase
