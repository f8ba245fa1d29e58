"""How often a wrong reading survives a whole sweep: recogniser, dialogue and geometry together.

    python -m tests.benchmarks.surviving_benchmark [--sweeps 2000] [--folder FOLDER]

The calls are recorded speech with fan noise at 20 dB through the real ears, the dialogue is
the real one, and the person is one who never listens to the read-back: they answer what is
asked of them truly and repeat what was not understood, and that is all. Thousands of sweeps
of fresh sound would take days, so every clip is heard a few times, each time in other noise,
and the sweeps are drawn from what was heard: a call is one of the clips of its value.
"""

import argparse
import math
import random
import sys
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import numpy as np

from assistant.devices.ears.endpoint import CHUNK_S
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.hearing import Ears, Utterance, heard_event
from assistant.devices.ears.verify import verify
from assistant.devices.ears.voice_activity import CHUNK
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Heard, Listen, Started
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer
from assistant.dialogue.state import AskReading, AskSign, State
from assistant.dialogue.step import step
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.noise import mix, noise, to_int16
from grammar.meaning import Reading
from grammar.parse import parse
from grammar.vocabulary import STATIONS, Station
from tests.benchmarks.hearing_clips import Clip, clips_of

RATIO_DB = 20.0
MOST_CALLS = 60
"""Calls after which a sweep is given up; it is counted as not accepted."""

QUARTERS = (Decimal("-0.5"), Decimal("-0.25"), Decimal(0), Decimal("0.25"), Decimal("0.5"))
"""How far the front may be from the plane of the others: the table's roughness."""

_TOO_FEW = "too few signed readings among the clips to make a sweep of them"
_TRAIL = math.ceil(1.0 / CHUNK_S) * CHUNK

Truth = Mapping[Station, Decimal]


@dataclass(frozen=True, slots=True)
class Call:
    """A clip as it was heard: ``hearings`` are utterances, one list for each noise."""

    meaning: Reading
    hearings: tuple[tuple[Utterance, ...], ...]

    def misheard(self) -> int:
        """How many of the hearings were accepted as another reading."""
        return sum(
            any(one.outcome == "accept" and not _is(one.meaning, self.meaning) for one in heard)
            for heard in self.hearings
        )


def _is(heard: object, said: Reading) -> bool:
    return isinstance(heard, Reading) and (heard.value, heard.signed, heard.station) == (
        said.value, said.signed, said.station,
    )  # fmt: skip


@dataclass(slots=True)
class Tally:
    """Sweeps by what became of them. ``wrong``: readings kept that were not called so."""

    sweeps: int = 0
    accepted: int = 0
    spoilt: int = 0
    wrong: int = 0
    calls: int = 0
    again: int = 0


def heard_calls(clips: Iterable[Clip], noises: int) -> list[Call]:
    """Every signed reading among the clips through the ears, in so many noises each."""
    scale = Profile().scale
    ears = Ears(PocketSphinx(), verify)
    ears.arm(offer(Sweeping.SWEEP, scale))
    calls: list[Call] = []
    for index, clip in enumerate(clips):
        said = clip.meaning
        if not isinstance(said, Reading) or not said.signed or said.doubtful_unit:
            continue
        if said.correction or clip.scale.system != scale.system or not scale.shows(said.value):
            continue
        hearings: list[tuple[Utterance, ...]] = []
        for turn in range(noises):
            fan = noise("fan", len(clip.sound), np.random.default_rng([index, turn]))
            sound = to_int16(mix(clip.sound, fan, RATIO_DB))
            padded = np.concatenate([sound, np.zeros(_TRAIL, np.int16)])
            ears.start_over()
            hearings.append((*ears.feed(padded), *ears.flush()))
        calls.append(Call(said, tuple(hearings)))
    return calls


@dataclass(slots=True)
class Pool:
    """Calls by station and value, and the sweeps that can be made of them."""

    calls: Sequence[Call]
    by: dict[tuple[Station, Decimal], list[Call]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        found: dict[tuple[Station, Decimal], list[Call]] = defaultdict(list)
        for call in self.calls:
            named = call.meaning.station
            for station in (named,) if named else STATIONS:
                found[station, call.meaning.value].append(call)
        self.by = dict(found)

    def values(self, station: Station) -> list[Decimal]:
        """What can be called there."""
        return sorted(value for where, value in self.by if where == station)

    def truth(self, chance: random.Random) -> dict[Station, Decimal]:
        """A tilted, slightly rough table whose every reading can be called.

        The first station is the zero that was set, so it closes with nought.
        """
        first, *others = STATIONS
        if not all(self.values(name) for name in others):
            raise ValueError(_TOO_FEW)
        for _ in range(10_000):
            right, left = (chance.choice(self.values(name)) for name in ("right", "left"))
            front = right + left + chance.choice(QUARTERS)
            if ("front", front) in self.by and (first, Decimal(0)) in self.by:
                return {"right": right, "left": left, "front": front, first: Decimal(0)}
        raise ValueError(_TOO_FEW)


def play(pool: Pool, chance: random.Random, tally: Tally) -> None:
    """One sweep from the zero on, and what became of it."""
    clock = SimulatedClock()
    truth = pool.truth(chance)
    state, effects = step(None, Started(clock.now(), "sweep", Profile()))
    for words in ("yes", "yes", "yes", "yes", "locked", "zeroed"):
        state, effects = step(state, _typed(words, clock, _listening(effects), state))
    tally.sweeps += 1
    for _ in range(MOST_CALLS):
        listen = _listening(effects)
        if listen is None or state.phase is not Sweeping.SWEEP:
            break
        answered = _answer(state, truth)
        if answered:
            state, effects = step(state, _typed(answered, clock, listen, state))
            continue
        station = state.awaited or STATIONS[0]
        tally.calls += 1
        before = len(state.readings)
        gathered: list[Effect] = []
        for one in chance.choice(chance.choice(pool.by[station, truth[station]]).hearings):
            clock.pass_time(2.0)
            state, new = step(state, heard_event(one, clock.now(), listen.turn))
            gathered += new
        tally.again += len(state.readings) == before
        # Nothing came of it: the question stands and the person says it once more.
        effects = tuple(gathered) if _listening(gathered) else effects
    if not state.sweeps or not state.sweeps[-1].usable:
        return
    wrong = sum(
        taken.value != truth[taken.station]
        for taken in state.sweeps[-1].readings
        if not taken.zeroed
    )
    tally.accepted += 1
    tally.spoilt += wrong > 0
    tally.wrong += wrong


def _answer(state: State, truth: Truth) -> str:
    """The true answer to a question about what was heard; none when there is no such question."""
    match state.pending:
        case None:
            return ""
        case AskSign(reading=unsigned):
            if state.elsewhere(unsigned):
                # Another station is asked about than the dial stands at: it is called again.
                return ""
            return "minus" if truth[state.awaited or STATIONS[0]] < 0 else "plus"
        case AskReading(candidates=(first, *_)):
            station = first.station or state.awaited or STATIONS[0]
            meant = state.awaited or STATIONS[0]
            right = station == meant and first.value == truth[station]
            return "yes" if right else "no"
        case _:
            return "no"


def _typed(words: str, clock: SimulatedClock, listen: Listen | None, state: State) -> Heard:
    clock.pass_time(1.0)
    turn = listen.turn if listen else state.turn
    meaning = parse(words, state.profile.scale)
    return Heard(clock.now(), turn, "text", "accept", words, meaning)


def _listening(effects: Iterable[Effect]) -> Listen | None:
    found = [effect for effect in effects if isinstance(effect, Listen)]
    return found[-1] if found else None


def interval(count: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share by Wilson's score method (J. Am. Stat. Assoc. 22, 1927)."""
    if not of:
        return 0.0, 1.0
    z = 1.959964
    share, spread = count / of, z * z / of
    centre = (share + spread / 2) / (1 + spread)
    half = z * math.sqrt(share * (1 - share) / of + spread / (4 * of)) / (1 + spread)
    return max(0.0, centre - half), min(1.0, centre + half)


def played(calls: Sequence[Call], sweeps: int, seed: int) -> Tally:
    """So many sweeps from these calls."""
    pool, tally, chance = Pool(calls), Tally(), random.Random(seed)
    for _ in range(sweeps):
        play(pool, chance, tally)
    return tally


def resampled(calls: Sequence[Call], sweeps: int, times: int) -> list[float]:
    """The share of spoilt sweeps for other draws of the same number of clips, sorted."""
    shares: list[float] = []
    for seed in range(times):
        chance = random.Random(f"clips {seed}")
        try:
            tally = played(chance.choices(calls, k=len(calls)), sweeps, seed)
        except ValueError:
            continue
        shares.append(tally.spoilt / max(1, tally.accepted))
    return sorted(shares)


def table(calls: Sequence[Call], tally: Tally, shares: Sequence[float]) -> str:
    """What was measured, in words."""
    hearings = sum(len(call.hearings) for call in calls)
    misheard = sum(call.misheard() for call in calls)
    low, high = interval(tally.spoilt, tally.accepted)
    share = 1000 * tally.spoilt / max(1, tally.accepted)
    lines = [
        f"{len(calls)} clips heard {hearings} times, fan {RATIO_DB:.0f} dB: {misheard} accepted "
        f"wrong ({100 * misheard / max(1, hearings):.2f} %)",
        f"{tally.sweeps} sweeps drawn from them, read-backs ignored: {tally.accepted} accepted, "
        f"{tally.calls} calls, {tally.again} said again or asked",
        f"wrong readings in accepted sweeps: {tally.wrong}, in {tally.spoilt} sweeps: "
        f"{share:.2f} in 1,000 (95 % interval {1000 * low:.2f} to {1000 * high:.2f} for these "
        "clips)",
    ]
    if shares:
        top = shares[min(len(shares) - 1, math.ceil(0.95 * len(shares)) - 1)]
        lines.append(f"other draws of as many clips: up to {1000 * top:.2f} in 1,000 in 95 of 100")
    return "\n".join(lines) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="surviving_benchmark", description=__doc__)
    parser.add_argument("--sweeps", type=int, default=2000)
    parser.add_argument("--folder", type=Path, help="clips with a manifest.jsonl; else our own")
    parser.add_argument("--noises", type=int, default=2, help="hearings of each clip")
    parser.add_argument("--every", type=int, default=1, help="every n-th clip")
    parser.add_argument("--resamples", type=int, default=20)
    options = parser.parse_args(arguments)
    calls = heard_calls(list(clips_of(options.folder))[:: options.every], options.noises)
    try:
        tally = played(calls, options.sweeps, seed=1)
    except ValueError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    shares = resampled(calls, max(1, options.sweeps // 4), options.resamples)
    sys.stdout.write(table(calls, tally, shares))
    return 0


if __name__ == "__main__":
    sys.exit(main())
