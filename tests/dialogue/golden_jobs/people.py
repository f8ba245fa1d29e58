"""Jobs that simulated people play at simulated machines, heard well, badly and by chance."""

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Decision, Event, Heard, Listen
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.introduction import Introducing
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.metrology.lengths import Length
from assistant.records.machines.presets import Units, preset
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.rehearsal import Carrier, rehearse
from assistant.simulation.wording import EVERYDAY
from grammar.meaning import Hypothesis
from grammar.offer import Offer
from grammar.parse import parse
from grammar.scale import System
from grammar.sentences import sentences
from tests.dialogue import streams
from tests.dialogue.golden_jobs.odd_tables import draw
from tests.dialogue.test_packing import Vise
from tests.dialogue.test_touch import _play as by_touch
from tests.dialogue.typed import TypedJob
from tests.grammar.languages import sample
from tests.simulation.head_bench import draw_mill
from tests.simulation.machine_operator import MachineOperator
from tests.simulation.test_leaves import GAP, SQUARE, Person
from tests.simulation.text_carrier import TextCarrier


class DoubtfulEars:
    """Hears by voice: sometimes with doubt, not at all or something else, and guesses besides."""

    def __init__(self, clock: SimulatedClock, seed: int, doubt: float) -> None:
        self._clock = clock
        self._chance = random.Random(f"doubt {seed}")
        self._doubt = doubt

    def carry(self, words: str, listen: Listen) -> Sequence[Heard]:
        """One event, whatever it is taken for."""
        self._clock.pass_time(2.0)
        roll, others = self._chance.random(), self._others(listen.offer)
        outcome: Decision = "accept"
        confidence = round(self._chance.uniform(0.9, 1.0), 3)
        if roll < self._doubt:
            outcome, confidence = "ask", round(self._chance.uniform(0.3, 0.98), 3)
        elif roll < 1.3 * self._doubt:
            outcome, confidence = "reject", round(self._chance.uniform(0.0, 0.3), 3)
        elif roll < 1.45 * self._doubt:
            words = others[0].words
        meaning = parse(words, listen.offer.scale)
        at = self._clock.now()
        return [Heard(at, listen.turn, "voice", outcome, words, meaning, confidence, others)]

    def _others(self, offer: Offer) -> tuple[Hypothesis, ...]:
        said = [sample(sentences(offer), self._chance) for _ in range(self._chance.randint(1, 2))]
        return tuple(
            Hypothesis(words, parse(words, offer.scale), round(0.2 / n, 3))
            for n, words in enumerate(said, 1)
        )


def at_table(seed: int, system: System = "thou", *, doubt: float = 0.0) -> list[Event]:
    """A table that tilts, by somebody whose words are not always the plainest."""
    profile = profile_for(system)
    bench = Bench(draw_machine(seed, system))
    return _rehearsed(Operator(bench, profile, random.Random(seed), EVERYDAY), seed, doubt)


def at_odd_table(seed: int, tolerance: float, *, pinned: bool = False) -> list[Event]:
    """A table whose pivot, span and roughness are anything, at another tolerance."""
    machine, profile = draw(seed, tolerance)
    profile = replace(profile, kind="pinned") if pinned else profile
    person = MachineOperator(Bench(machine), profile, random.Random(seed), EVERYDAY)
    return _rehearsed(person, seed, 0.0)


def at_head(seed: int, *, free: bool = False, doubt: float = 0.0) -> list[Event]:
    """A mill's head, or a table that turns freely."""
    bench, profile = draw_mill(seed)
    if free:
        profile = replace(profile, kind="free", nod_offset=Length.of(0, "in"))
    person = MachineOperator(bench, profile, random.Random(seed), EVERYDAY)
    return _rehearsed(person, seed, doubt)


def by_leaves(seed: int, profile: Profile, square_error: float = 0.0) -> list[Event]:
    """By feeler leaves, under a rod or at a square."""
    wide = replace(profile, scale=replace(profile.scale, reach=60))
    person = Person(seed, wide, square_error)
    person.play()
    return person.job.events


def packed(seed: int, name: str, units: Units) -> list[Event]:
    """Shims under the feet of what is swept; the person takes every advice."""
    profile = preset(name, units)
    assert profile is not None
    chance = random.Random(seed)
    times = 1.0 if units == "inch" else 2.5
    off = [times * chance.uniform(-9, 9) for _ in range(2)]
    vise = Vise(chance, off[0], off[1], (chance.uniform(0.7, 1.4), chance.uniform(0.7, 1.4)))
    job = TypedJob.begin(profile)
    for _ in range(200):
        if job.state.phase is Close.CLOSED or job.listening is None:
            break
        if job.state.phase is Sweeping.SWEEP and not job.state.doubts.again:
            job.say(*vise.sweep(job.state.packing, profile.scale.step))
        else:
            asked = job.state.phase is Sweeping.SWEEP
            job.say("next" if asked else job.listening.offer.phrases()[0])
    return job.events


def touching(seed: int) -> list[Event]:
    """By touch alone, and to the end."""
    _, job = by_touch(seed)
    job.say("yes", "done")
    return job.events


def by_chance(seed: int) -> list[Event]:
    """Events as they come, at any machine."""
    chance, every = random.Random(f"golden {seed}"), streams.profiles()
    while True:
        found = streams.Found()
        events = streams.play(chance, chance.choice(every), found)
        # A short one gets nowhere; an introduction has no events of its own there.
        if len(events) > streams.LONGEST // 2 and not {*Introducing} & found.phases.keys():
            return events


def _rehearsed(operator: Operator, seed: int, doubt: float) -> list[Event]:
    clock = SimulatedClock()
    carrier: Carrier = DoubtfulEars(clock, seed, doubt) if doubt else TextCarrier(clock)
    return list(rehearse(operator, carrier, clock, job="golden").events)


PLAYED: dict[str, Callable[[], list[Event]]] = {
    **{f"table-inch-{n}": partial(at_table, n) for n in (3, 8, 21)},
    **{f"table-metric-{n}": partial(at_table, n, "mm") for n in (5, 14, 33)},
    **{f"table-doubtful-{n}": partial(at_table, n, doubt=0.3) for n in (2, 7, 12, 19)},
    **{f"table-doubtful-metric-{n}": partial(at_table, n, "mm", doubt=0.3) for n in (4, 9)},
    **{f"table-odd-{n}": partial(at_odd_table, n, 2.5) for n in (6, 16, 26)},
    **{f"table-wide-{n}": partial(at_odd_table, n, 8.0) for n in (10, 20)},
    **{f"table-pinned-{n}": partial(at_odd_table, n, 4.0, pinned=True) for n in (31, 32)},
    **{f"head-{n}": partial(at_head, n) for n in (1, 6, 11)},
    **{f"head-doubtful-{n}": partial(at_head, n, doubt=0.25) for n in (2, 3)},
    **{f"free-table-{n}": partial(at_head, n, free=True) for n in (4, 5)},
    **{f"gap-{n}": partial(by_leaves, n, GAP) for n in (2, 17)},
    **{f"square-{n}": partial(by_leaves, n, SQUARE) for n in (3, 18)},
    "square-not-square": partial(by_leaves, 4, SQUARE, 5.0),
    "vise-inch": partial(packed, 5, "vise on a table", "inch"),
    "vise-metric": partial(packed, 6, "vise on a table", "metric"),
    "radial-inch": partial(packed, 7, "radial drill", "inch"),
    "radial-metric": partial(packed, 8, "radial drill", "metric"),
    **{f"touch-{n}": partial(touching, n) for n in (2, 9)},
    **{f"chance-{n:02}": partial(by_chance, n) for n in range(1, 17)},
}
"""Every job that a person plays, by the name of its file."""
