"""Hours of sound through the live loop, faster than they last: does anything grow, drift, get lost?

``python -m tests.devices.soak --hours 2`` prints a table. Real ears, voice, record, threads
and half duplex; only the sound card is a stand-in, and the clock of the sound runs as fast as
everything keeps up. A simulated person squares one machine after the other by speaking; now
and then somebody else talks, a motor runs, a key is pressed, the microphone is pulled out, or
its radio link drops out.
"""

import argparse
import faulthandler
import io
import random
import statistics
import sys
import tempfile
import time
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soxr  # type: ignore[import-untyped]

from assistant.bench.live_bench import LiveBench
from assistant.bench.queued import End, Spoken, Typed
from assistant.bench.wishes import Surroundings, Wishes
from assistant.devices.ears.engines import ENGINES, Engine, recogniser
from assistant.devices.sound.microphone import Block, _Raw
from assistant.dialogue.messages import TURNED_DOWN, Effect, Event, Heard, Listen
from assistant.records.journal.journal import Journal
from assistant.simulation.bench import Bench as Machine
from assistant.simulation.bench import draw_machine, profile_for
from assistant.simulation.caller import Operator, OperatorStuck
from assistant.simulation.rehearsal import same_meaning
from assistant.simulation.sound_carrier import Speaks
from assistant.simulation.speech import RATE, SpeechBank, voices
from assistant.simulation.synthesised import somebody
from grammar.meaning import Reading
from grammar.parse import parse
from tests.devices.sound_stand_in import MIC, OUT, Clock, StandInLibrary

Samples = npt.NDArray[np.int16]

MIC_RATE, OUT_RATE = 44_100, 48_000
BLOCK_S = 0.03
GIVE_UP_S = 2.5
"""Quiet after a call of which nothing comes, until the person says it once more."""

MOTOR_S = 25.0

DROP_OUTS_S = (0.05, 0.6)
"""How long a radio link delivers nothing, at least and at most: too short to count as lost."""

EVERY_S = 600.0
"""Sound between two rows, and between two disturbances of a kind."""

LIMIT_S = 60.0
"""A block that is not through after this has met a hang."""


@dataclass
class Tally:
    """What happened so far; ``late_s``: from the end of each call to its event."""

    handled: int = 0
    jobs: int = 0
    stuck: int = 0
    calls: int = 0
    unheard: int = 0
    keys: int = 0
    talk: int = 0
    motors: int = 0
    pulled: int = 0
    drop_outs: int = 0
    misheard: int = 0
    stale: int = 0
    wrong_turn: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    late_s: list[float] = field(default_factory=list)


class Soak:
    """One run; ``step`` moves everything by one block of sound.

    ``every_s``: of sound, between two disturbances of a kind.
    """

    def __init__(
        self, folder: Path, seed: int = 1, every_s: float = EVERY_S, engine: Engine = "auto"
    ) -> None:
        self.tally = Tally()
        self.clock = Clock()
        self._begun_at = self.clock.now
        self._record = folder / "jobs.db"
        self._chance = random.Random(seed)
        self._noise = np.random.default_rng(seed)
        # A voice that the ears take surely: how well others are heard is measured elsewhere.
        self._person = SpeechBank("slt") if engine == "pocketsphinx" else somebody(seed)
        self._other = SpeechBank(voices()[-1])
        self._mic = StandInLibrary(MIC, form=(MIC_RATE, 2))
        self._out = StandInLibrary(OUT, form=(OUT_RATE, 2))
        self._effects: list[Effect] = []
        self._sound: Samples = np.zeros(0, np.int16)
        self._speaks_at: float | None = None
        self._ended_at: float | None = None
        self._words: str | None = None
        self._motor_until = 0.0
        self._dropped = (0.0, 0.0)
        self._drops_at = every_s / 8
        self._every_s = every_s
        self._owed = {
            "key": every_s / 10, "talk": every_s / 6, "motor": every_s / 3, "pull": every_s / 1.5,
        }  # fmt: skip
        self._seed = seed
        self.delivered = self.read = 0
        self._idle = self._given_up = False
        self.stack = ExitStack()
        journal = self.stack.enter_context(Journal.open(self._record))
        self.profile = profile_for("thou")
        around = Surroundings(
            lambda kind: self._mic if kind == "microphone" else self._out, clock=self.clock
        )
        self.bench = LiveBench(
            self.profile, journal, Wishes(), lambda: recogniser(engine), io.StringIO(), _Sink(),
            _Sink(), around,
        )  # fmt: skip
        perform = self.bench.loop._perform

        def noted(effect: Effect) -> None:
            self._effects.append(effect)
            perform(effect)

        self.bench.loop._perform = noted
        self.bench.open(self.stack)
        self._count_samples()
        self._begin()

    @property
    def seconds(self) -> float:
        """Sound so far."""
        return self.clock.now - self._begun_at

    def committed(self) -> int:
        """Events in the record, without the one that begins each job."""
        return sum(job.events - 1 for job in self.bench.loop.journal.jobs())

    def _begin(self) -> None:
        self._seed += 1
        self._given_up = False
        self.tally.jobs += 1
        machine = Machine(draw_machine(self._seed, "thou"))
        self._operator = Operator(machine, self.profile, random.Random(self._seed))
        self.bench.loop.begin()
        self._react()

    def _count_samples(self) -> None:
        microphone = self.bench._microphone
        assert microphone is not None
        real, convert = microphone.read, microphone._to_speech_rate

        def read(timeout_s: float) -> Block | None:
            self._idle = True
            block = real(timeout_s)
            self._idle = False
            return block

        def counted(raw: _Raw) -> Samples:
            samples = convert(raw)
            self.read += len(samples)
            return samples

        microphone.read = read  # type: ignore[method-assign]
        microphone._to_speech_rate = counted  # type: ignore[method-assign]

    # -- one block ---------------------------------------------------------------------------

    def step(self) -> None:
        """Deliver a block, let everybody work on it, handle what comes of it."""
        self._disturb()
        self._speak()
        size = round(BLOCK_S * MIC_RATE)
        part, self._sound = self._sound[:size], self._sound[size:]
        loud = 4_000.0 if self.seconds < self._motor_until else 12.0
        block = self._noise.normal(0.0, loud, size)
        block[: len(part)] += part
        self.clock.now += BLOCK_S
        microphone = self.bench._microphone
        begins, ends = self._dropped
        out = begins <= self.seconds < ends
        if microphone is not None and microphone._stream is self._mic.streams[-1]:
            if not out:
                self.delivered += size
                self._mic.streams[-1].deliver(np.clip(block, -32768, 32767).astype(np.int16))
        else:
            # Whoever opens it again looks ten times in a real second.
            time.sleep(BLOCK_S / 3)
        for _ in range(3):
            self._out.streams[-1].take(round(BLOCK_S / 3 * OUT_RATE))
        if len(part) and not len(self._sound):
            self._ended_at = self.seconds
        self._wait()
        while not self.bench.mailbox.empty():
            self._handle()
        if self.bench.loop.over or self._given_up:
            self._begin()

    def _wait(self) -> None:
        microphone = self.bench._microphone
        assert microphone is not None
        until = time.monotonic() + LIMIT_S
        while not (microphone._queue.empty() and self._idle):
            if time.monotonic() > until:
                faulthandler.dump_traceback(all_threads=True)
                raise TimeoutError(f"nobody takes the sound any more at {self.seconds:.0f} s")
            time.sleep(0.0001)

    def _handle(self) -> None:
        mail = self.bench.mailbox.get()
        assert not isinstance(mail, End | Typed)
        event: Event = mail.event if isinstance(mail, Spoken) else mail
        state = self.bench.loop.state
        assert state is not None
        tally = self.tally
        tally.handled += 1
        tally.kinds[type(event).__name__] += 1
        if isinstance(event, Heard):
            tally.stale += event.turn != state.turn
            tally.misheard += self._is_wrong(event)
            if self._ended_at is not None and self._words is not None:
                tally.late_s.append(self.seconds - self._ended_at)
                self._words = self._ended_at = None
        self.bench.handle(mail)
        after = self.bench.loop.state
        assert after is not None
        listens = [effect for effect in self._effects if isinstance(effect, Listen)]
        tally.wrong_turn += bool(listens) and listens[-1].turn != after.turn
        self._react(isinstance(event, Heard) and event.outcome in TURNED_DOWN)

    def _is_wrong(self, event: Heard) -> bool:
        """Accepted as something else than was said; a station that was lost may be left out."""
        if event.outcome != "accept" or self._words is None:
            return False
        said, meant = parse(self._words, self.profile.scale), event.meaning
        if isinstance(said, Reading) and isinstance(meant, Reading) and meant.station is None:
            said = replace(said, station=None)
        return not same_meaning(meant, said)

    def _react(self, turned_down: bool = False) -> None:
        effects, self._effects = self._effects, []
        try:
            words = self._operator.react(effects)
        except OperatorStuck:
            self.tally.stuck += 1
            self._given_up = True
            return
        if words is None and turned_down:
            words = self._operator.silence()
        if words is not None:
            self._words, self._speaks_at, self._ended_at = words, None, None

    # -- the person and the shop -----------------------------------------------------------------

    def _speak(self) -> None:
        if self._words is None or len(self._sound) or self.seconds < self._motor_until + 6.0:
            return
        if not self.bench.hears:
            return
        if self._ended_at is not None:
            if self.seconds > self._ended_at + GIVE_UP_S:
                self.tally.unheard += 1
                self._words, self._ended_at = self._operator.silence(), None
                self._speaks_at = None
            return
        mouth = self.bench._mouth
        if mouth is None or mouth.speaking():
            self._speaks_at = None
        elif self._speaks_at is None:
            self._speaks_at = self.seconds + self._chance.uniform(0.5, 1.0)
        elif self.seconds >= self._speaks_at:
            self.tally.calls += 1
            self._say(self._person, self._words, 1.0)
            self._drop_out()

    def _drop_out(self) -> None:
        """Somewhere in the call that was just begun its link is gone for a while, when due."""
        if self.seconds < self._drops_at:
            return
        self._drops_at += self._every_s / 4
        self.tally.drop_outs += 1
        begins = self.seconds + self._chance.uniform(0.0, len(self._sound) / MIC_RATE)
        self._dropped = (begins, begins + self._chance.uniform(*DROP_OUTS_S))

    def _say(self, mouth: Speaks, words: str, loudness: float) -> None:
        spoken = mouth.say(words).astype(np.float32) * loudness
        self._sound = soxr.resample(spoken, RATE, MIC_RATE).astype(np.int16)

    def _disturb(self) -> None:
        state = self.bench.loop.state
        if not self._mic.present and state is not None and "microphone" in state.lost:
            self._mic.present.append(MIC)
        due = [name for name, at in self._owed.items() if self.seconds >= at]
        if self.seconds < self._motor_until and "key" in due:
            # To have a long prompt said again would leave no quiet in which to hear the motor.
            due.remove("key")
        if not due or len(self._sound) or self._ended_at is not None:
            return
        name = due[0]
        self._owed[name] += self._every_s if name != "key" else self._every_s / 5
        match name:
            case "talk":
                self.tally.talk += 1
                self._say(self._other, "left minus twelve", 0.02)
                self._speaks_at = None
            case "motor":
                self.tally.motors += 1
                self._motor_until = self.seconds + MOTOR_S
            case "key":
                self.tally.keys += 1
                self.bench.key("*")
            case _:
                self.tally.pulled += 1
                self._mic.present.clear()
                self._mic.streams[-1].close()


class _Sink(io.StringIO):
    """A stream that keeps nothing."""

    def write(self, text: str) -> int:
        return len(text)


def _memory_mb() -> float:
    with Path("/proc/self/statm").open() as file:
        return int(file.read().split()[1]) * 4096 / 1e6


HEAD = (
    "sound_min  real_s  memory_MB  jobs  calls  unheard  misheard  stale  events  in_record  "
    "late_ms  samples_off"
)


def run(hours: float, seed: int = 1, engine: Engine = "auto") -> list[str]:
    """Print a row every ten minutes of sound; gives what is wrong at the end."""
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        soak = Soak(Path(folder), seed, engine=engine)
        _row(HEAD)
        with soak.stack:
            rows = 1
            while soak.seconds < hours * 3600:
                soak.step()
                if soak.seconds >= rows * EVERY_S or soak.seconds >= hours * 3600:
                    rows += 1
                    _row(row(soak, time.monotonic() - began))
            tally = soak.tally
            _row(f"events: {dict(sorted(tally.kinds.items()))}, stuck: {tally.stuck}")
            _row(
                f"talk: {tally.talk}, motors: {tally.motors}, pulled out: {tally.pulled}, "
                f"dropped out: {tally.drop_outs}"
            )
            return checks(soak)


def row(soak: Soak, real_s: float) -> str:
    """One line of the table."""
    tally = soak.tally
    late = statistics.median(tally.late_s[-100:]) * 1000 if tally.late_s else 0.0
    return (
        f"{soak.seconds / 60:9.0f}  {real_s:6.0f}  {_memory_mb():9.1f}  {tally.jobs:4}  "
        f"{tally.calls:5}  {tally.unheard:7}  {tally.misheard:8}  {tally.stale:5}  "
        f"{tally.handled:6}  {soak.committed():9}  {late:7.0f}  {samples_off(soak):11.0f}"
    )


def samples_off(soak: Soak) -> float:
    """Samples at 16 kHz that are too many or too few for those that were delivered."""
    return soak.read - soak.delivered * RATE / MIC_RATE


def checks(soak: Soak) -> list[str]:
    """What is wrong; nothing when all is well."""
    tally, wrong = soak.tally, []
    if tally.handled != soak.committed():
        wrong.append(f"{tally.handled} events came, {soak.committed()} are in the record")
    if tally.kinds["KeyPressed"] != tally.keys:
        wrong.append(f"{tally.keys} keys were pressed, {tally.kinds['KeyPressed']} came")
    for name in ("DeviceLost", "DeviceBack"):
        if tally.kinds[name] != tally.pulled:
            wrong.append(f"{tally.pulled} times pulled out, {tally.kinds[name]} {name} came")
    disturbed = tally.talk + tally.pulled + tally.drop_outs
    if tally.unheard > disturbed:
        # Somebody else talks into a call, or it falls into the moment before a loss is told.
        wrong.append(f"{tally.unheard} calls unheard, {disturbed} disturbed")
    if tally.stuck:
        wrong.append(f"{tally.stuck} times the person did not know what to do")
    if tally.misheard:
        wrong.append(f"{tally.misheard} calls accepted as something else")
    if tally.wrong_turn:
        wrong.append(f"{tally.wrong_turn} times another turn was listened for")
    if abs(samples_off(soak)) > RATE / 10:
        wrong.append(f"{samples_off(soak):.0f} samples too many or too few")
    if tally.kinds["RoomNoise"] != 2 * tally.motors:
        wrong.append(f"{tally.motors} motors ran, {tally.kinds['RoomNoise']} times it was told")
    return wrong


def _row(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def main() -> int:
    """Print the table and what is wrong; 1 if anything is."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--hours", type=float, default=2.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--engine", choices=ENGINES, default="auto")
    arguments = parser.parse_args()
    wrong = run(arguments.hours, arguments.seed, arguments.engine)
    for line in wrong or ["nothing is wrong"]:
        _row(line)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
