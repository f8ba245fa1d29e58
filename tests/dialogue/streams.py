"""Random streams of events in great number: ``python -m tests.dialogue.streams --streams 100000``.

The rules are those of `test_event_streams`; here it is chance alone that makes the streams, for
every kind of machine, method and dial, so that a hundred thousand take minutes.
"""

import argparse
import random
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, get_args, get_type_hints

from assistant.dialogue.job import JOB
from assistant.dialogue.keys import KEYS
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    ClockSet,
    Device,
    DeviceBack,
    DeviceLost,
    Event,
    Heard,
    KeyPressed,
    Listen,
    MachineChosen,
    Resumed,
    RoomNoise,
    Started,
)
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.introduction import StartingPoint
from assistant.dialogue.questions import offer_now
from assistant.dialogue.state import State
from assistant.dialogue.step import introduce, step
from assistant.metrology.lengths import Length
from assistant.records.machines.presets import LAYOUTS, preset
from grammar.sentences import sentences
from tests.dialogue import test_event_streams as rules
from tests.dialogue.hands import Hands
from tests.dialogue.typed import AT
from tests.grammar.languages import sample

LONGEST = 100
"""Events of a stream at most."""

STEADY = (1, 5, 20, 100)
"""How much likelier than usual it is in a stream that somebody just carries on."""

DEVICES: tuple[Device, ...] = get_args(Device)


@dataclass
class Found:
    """What the streams met."""

    streams: int = 0
    events: int = 0
    accepted: int = 0
    phases: Counter[Phase] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


def profiles() -> list[Profile]:
    """A profile of every layout and dial, and of every choice that a profile has."""
    found: list[Profile] = [Profile()]
    for layout in LAYOUTS:
        found += [p for p in (preset(layout.name, "inch"), preset(layout.name, "metric")) if p]
    for name, hint in get_type_hints(Profile).items():
        for choice in get_args(hint):
            if isinstance(choice, str):
                changed: dict[str, Any] = {name: choice}
                found.append(replace(found[0], **changed))
    # What a machine's file must say is there; those that it refuses never come to a job.
    tall = replace(Profile().instrument, square_height=Length.of(6, "in"))
    return [replace(p, instrument=tall) if p.method == "square" else p for p in found]


def play(chance: random.Random, profile: Profile, found: Found) -> list[Event]:
    """One stream against the rules; its events. Raises what a rule or a step raises."""
    events: list[Event] = [Started(AT, "stream", profile)]
    state, _ = step(None, events[0])
    if chance.random() < 0.1:
        known = ("mill", "drill press", "other mill")[: chance.randint(0, 3)]
        state, _ = introduce(known, _kinds())
    found.streams += 1
    steady, hands = chance.choice(STEADY), Hands()
    for _ in range(chance.randint(1, LONGEST)):
        before = state
        event = _event(chance, before, steady)
        events.append(event)
        found.events += 1
        found.phases[before.phase] += 1
        try:
            state, effects = step(before, event)
            if any(isinstance(effect, MachineChosen) for effect in effects):
                # Its job begins with a state of its own.
                return events
            rules._nothing_is_lost(before, state)
            rules._nothing_is_taken_loosely(before, state)
            hands.follow(before, event, state)
            listens = [effect for effect in effects if isinstance(effect, Listen)]
            rules._somebody_listens(before, state, listens)
            stale = isinstance(event, Heard) and event.turn != before.turn
            assert not stale or (state == before and effects == ())
        except Exception as error:
            raise StreamFailure(events) from error
        if state.phase is Close.CLOSED and chance.random() < 0.5:
            break
        standing = rules._standing(before)
        found.accepted += any(taken not in standing for taken in rules._standing(state))
    return events


def _kinds() -> tuple[StartingPoint, ...]:
    found = []
    for layout in LAYOUTS:
        inch, metric = preset(layout.name, "inch"), preset(layout.name, "metric")
        assert inch is not None
        assert metric is not None
        found.append(StartingPoint(inch, metric))
    return tuple(found)


class StreamFailure(Exception):
    """A rule was broken by the last of these events."""

    def __init__(self, events: list[Event]) -> None:
        super().__init__(f"after {len(events)} events, the last of them {events[-1]}")
        self.events = events


Make = Callable[[random.Random, State], Event]


def _offered(chance: random.Random, state: State) -> Event:
    words = sample(sentences(offer_now(state)), chance)
    return rules._line(words)(state)


def _onwards(chance: random.Random, state: State) -> Event:
    """What carries on, mostly: the deep phases are reached by that alone."""
    offer = offer_now(state)
    if offer.readings and chance.random() < 0.8:
        sign, number = chance.choice(("plus", "minus")), chance.randint(0, 3)
        signed = state.profile.method == "indicator" and number
        words = f"{sign} {_NUMBERS[number]}" if signed else _NUMBERS[number]
        return rules._line(words)(state)
    wanted = [word for word in _ONWARDS if word in offer.phrases()]
    return rules._line(chance.choice(wanted))(state) if wanted else _offered(chance, state)


_NUMBERS = ("zero", "one", "two", "three")
_ONWARDS = ("yes", "locked", "zeroed", "done", "next", "go ahead")

_DEVICES: tuple[Make, ...] = (
    lambda chance, _: DeviceLost(AT, chance.choice(DEVICES), "unplugged"),
    lambda chance, _: DeviceBack(AT, chance.choice(DEVICES)),
    lambda chance, _: RoomNoise(AT, chance.random() < 0.5),
    lambda _, __: Resumed(AT),
    lambda chance, _: ClockSet(AT, chance.uniform(-1e6, 1e6)),
)

MAKERS: tuple[tuple[int, Make], ...] = (
    (10, _offered),
    (6, lambda chance, state: rules._line(chance.choice(rules.ROADS))(state)),
    (6, lambda chance, state: KeyPressed(AT, state.turn, chance.choice([*KEYS, "f1", ""]))),
    (3, lambda chance, s: rules._doubtful(chance.randrange(10**6), chance.choice(["ask", ""]))(s)),
    (2, lambda chance, s: rules._stale(chance.choice(rules.ROADS), chance.randint(1, 5))(s)),
    (2, lambda chance, state: chance.choice(_DEVICES)(chance, state)),
    (1, lambda chance, state: rules._line(_babble(chance))(state)),
)
"""How often each kind of event comes, against thirty times that one just carries on."""


def _event(chance: random.Random, state: State, steady: int) -> Event:
    makers = [_onwards, *(make for _, make in MAKERS)]
    weights = [30 * steady, *(weight for weight, _ in MAKERS)]
    (make,) = chance.choices(makers, weights)
    return make(chance, state)


def _babble(chance: random.Random) -> str:
    letters = "abcxyz \u00e4\x1b[0;\u202e'\"<>&{}"
    return "x" + "".join(chance.choice(letters) for _ in range(chance.randint(0, 20)))


def run(streams: int, seed: int) -> Found:
    """Play them; a progress line for every ten thousand."""
    found, every, began = Found(), profiles(), time.monotonic()
    for number in range(streams):
        chance = random.Random(seed * 10**9 + number)
        try:
            play(chance, chance.choice(every), found)
        except StreamFailure as failure:
            found.failures.append(f"stream {number}: {failure}")
            if len(found.failures) <= 3:
                traceback.print_exception(failure.__cause__ or failure, file=sys.stdout)
        if (number + 1) % 10_000 == 0:
            took = time.monotonic() - began
            _row(f"{number + 1} streams, {found.events} events, {len(found.failures)} broken, "
                 f"{took:.0f} s")  # fmt: skip
    return found


def _row(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def main() -> int:
    """Print what was met; 1 if a rule was broken."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--streams", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    found = run(arguments.streams, arguments.seed)
    for phase in JOB.table:
        _row(f"{phase:16} {found.phases[phase]:9}")
    for line in found.failures[:20]:
        _row(line)
    _row(
        f"{found.streams} streams, {found.events} events, {found.accepted} readings accepted, "
        f"{len(found.failures)} broken"
    )
    return 1 if found.failures else 0


if __name__ == "__main__":
    sys.exit(main())
