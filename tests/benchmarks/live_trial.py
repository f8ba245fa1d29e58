"""The live loop timed: end of speech to tone and voice, stage by stage; processor and memory.

The real loop, ears, voice, journal and threads run in a process of their own at the pace of
the clock; only the sound card is pretended (``paced_sound``), so its own delay is not in the
figures. Somebody speaks recorded commands into it, those that begin every job, and then calls
of a sweep; each call is taken back, so that the next is like it. Figures are of this machine
and whatever else runs on it.

    python -m tests.benchmarks.live_trial [--engine NAME] [--slower 5]

``--slower``: on a processor so many times slower, as ``slowed`` pretends it.
"""

import argparse
import json
import re
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any, TextIO

import numpy as np

from assistant.bench.live_bench import LiveBench
from assistant.bench.wishes import Surroundings, Wishes
from assistant.devices.ears.engines import ENGINES, Engine, recogniser
from assistant.devices.ears.hearing import Decoded, Recogniser, Samples, Utterance
from assistant.devices.sound.microphone import RATE
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.voice.synthesis import Voice
from assistant.devices.voice.tones import ToneName, duration_s
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Listen, Say, Tone
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.records.journal.journal import Journal
from assistant.simulation.speech import SpeechBank, voices
from grammar.meaning import Reading
from grammar.offer import Offer
from grammar.parse import parse
from grammar.scale import Scale
from tests.benchmarks.hearing_tables import Goal, cell
from tests.benchmarks.paced_sound import PacedSound
from tests.benchmarks.slowed import Slowed, slower_by

CALLS = (
    "plus six", "right minus two", "plus fifteen", "minus three and a half", "right plus nine",
    "plus twenty two", "minus point five", "right minus eleven", "plus four thou", "minus eight",
    "right plus one", "minus seventeen",
)  # fmt: skip
"""All for the right, where the sweep waits."""

READY = ("yes", "yes", "yes", "yes", "locked", "zeroed")
"""What is answered before the first call: spoken and timed, as commands of their own."""

Sounds = Mapping[str, Samples]
"""What is said, as it sounds."""

IDLE_S = 12.0
PATIENCE_S = 60.0
PAUSE_S = 0.3


class _TimedRecogniser:
    """Notes when decoding began and when it was ready."""

    def __init__(self, timed: Recogniser, marks: dict[str, float]) -> None:
        self.name = timed.name
        self.learn, self.confirm = timed.learn, timed.confirm
        self.unlearn, self.forget = timed.unlearn, timed.forget
        self._timed, self._marks = timed, marks

    def arm(self, offer: Offer) -> None:
        """See ``Recogniser.arm``."""
        self._timed.arm(offer)
        self._marks["armed"] = time.monotonic()

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        """See ``Recogniser.decode``."""
        began = time.monotonic()
        decoded = self._timed.decode(samples, lead)
        self._marks.update(decoding=began, decoded=time.monotonic())
        return decoded


class _TimedBench(LiveBench):
    """The live loop with a pretended sound card and notes of when things happened."""

    def __init__(self, journal: Journal, engine: Engine, out: TextIO, err: TextIO) -> None:
        self.marks: dict[str, float] = {}
        self.sound = PacedSound()
        self.tone_name: ToneName = "heard"
        self.taken_for_talk = False
        self.engine_name = ""
        self.first_prompt_at = 0.0
        self.listens = (0, 0.0)
        """The turn that is listened for, and since when."""
        self._prepared = Voice()
        # Nobody hears the pretended speaker, so nothing that is said need be dropped.
        wishes = Wishes(keypad=False, sound=SoundSettings(headset=True))
        around = Surroundings(lambda _kind: self.sound, lambda _settings: self._prepared)
        super().__init__(
            Profile(), journal, wishes, lambda: self._timed(engine), out, out, err, around
        )

    def _timed(self, engine: Engine) -> Recogniser:
        made = recogniser(engine)
        self.engine_name = made.name
        return _TimedRecogniser(made, self.marks)

    def _heard(self, turn: int, utterance: Utterance) -> None:
        self.taken_for_talk = utterance.outcome == "talk"
        self.marks["handed"] = time.monotonic()
        super()._heard(turn, utterance)

    def _perform(self, effect: Effect) -> None:
        began = time.monotonic()
        match effect:
            case Tone(name=name):
                self.tone_name = name
                self.marks["tone_played"] = began
            case Say(text=text):
                self.first_prompt_at = self.first_prompt_at or time.time()
                self.marks.update(say=began, known=float(self._prepared.is_prepared(text)))
            case _:
                pass
        super()._perform(effect)
        if isinstance(effect, Say):
            self.marks.setdefault("spoken", time.monotonic())
        elif isinstance(effect, Listen):
            self.listens = (effect.turn, time.monotonic())


class _Person:
    """Speaks at the bench and writes down how long everything took."""

    def __init__(
        self, bench: _TimedBench, sounds: "Sounds", calls: Sequence[str], commands: int,
        idle_s: float,
    ) -> None:  # fmt: skip
        self._bench, self._calls, self._idle_s = bench, calls, idle_s
        self._spoken_from = len(READY) - commands
        self._sounds = sounds
        self.rounds: list[dict[str, float]] = []
        self.unanswered: list[str] = []
        self.cpu: dict[str, float] = {}
        self.fault = ""

    def run(self) -> None:
        """The whole trial; ends the job."""
        try:
            self._until(lambda: self._bench.first_prompt_at > 0)
            for words in READY[: self._spoken_from]:
                self._type(words)
            for words in READY[self._spoken_from :]:
                self._command(words)
            self._until(lambda: self._phase() == Sweeping.SWEEP)
            for words in self._calls:
                self._call(words)
            self._quiet()
            self.cpu["idle"] = self._load(lambda: time.sleep(self._idle_s))
            self.cpu["speech"] = self._load(self._talk)
        except TimeoutError as error:
            self.fault = str(error)
        finally:
            self._bench.end()

    def _phase(self) -> Phase | None:
        state = self._bench.loop.state
        return state.phase if state is not None else None

    def _turn(self) -> int:
        state = self._bench.loop.state
        return state.turn if state is not None else 0

    def _readings(self) -> int:
        state = self._bench.loop.state
        return len(state.readings) if state is not None else 0

    def _type(self, words: str) -> None:
        turn = self._turn()
        self._bench.line(words)
        self._until(lambda: self._turn() != turn)

    def _command(self, words: str) -> None:
        """Speak it; where it was not taken at once, type it."""
        if self._speak(words) and self._bench.tone_name == "heard":
            return
        state = self._bench.loop.state
        if state is not None and state.pending is not None:
            self._type("no")
        self._type(words)

    def _call(self, words: str) -> None:
        before = self._readings()
        self._speak(words)
        state = self._bench.loop.state
        if state is not None and state.pending is not None:
            self._type("no")
        elif state is not None and len(state.readings) > before:
            self._type("disregard")

    def _speak(self, words: str) -> bool:
        """Say it and wait for the answer; whether there is one: talk has none."""
        marks, microphone = self._bench.marks, self._bench.sound.microphone
        self._until(lambda: self._listens(marks))
        self._quiet()
        marks.clear()
        turn = self._turn()
        microphone.say(self._sounds[words])
        self._until(lambda: "handed" in marks)
        if self._bench.taken_for_talk:
            self.unanswered.append(words)
            return False
        self._until(lambda: "spoken" in marks and self._turn() != turn)
        # On a busy computer the voice may follow later than a pause lasts.
        self._until(lambda: self._answered(marks)[1] is not None)
        self._quiet()
        self.rounds.append(self._stages(words, dict(marks)))
        return True

    def _listens(self, marks: dict[str, float]) -> bool:
        """Whether the prompt is given out and the ears are armed: on a busy computer, late."""
        turn, since = self._bench.listens
        return turn == self._turn() and marks.get("armed", 0.0) >= since

    def _stages(self, words: str, marks: dict[str, float]) -> dict[str, float]:
        ended = self._bench.sound.microphone.ended_at
        tone_at, voice_at = self._answered(marks)
        found = {
            "end suspected": marks["decoding"] - ended,
            "decoded": marks["decoded"] - marks["decoding"],
            "sure that it ended": marks["handed"] - ended,
            "recorded and stepped": marks["tone_played"] - marks["handed"],
            "prompt synthesised": marks["spoken"] - marks["say"],
        }
        if tone_at is not None:
            found["speaker takes the tone"] = tone_at - marks["tone_played"]
            found["END OF SPEECH TO TONE"] = tone_at - ended
            found[KIND + _kind(words)] = tone_at - ended
        if voice_at is not None:
            found["END OF SPEECH TO VOICE"] = voice_at - ended
        return found | {"known": marks["known"]}

    def _answered(self, marks: dict[str, float]) -> tuple[float | None, float | None]:
        """When the tone began to sound and when the voice did, if they have."""
        sound_after = self._bench.sound.speaker.sound_after
        tone_at = sound_after(marks["tone_played"])
        if tone_at is None:
            return None, None
        return tone_at, sound_after(tone_at + duration_s(self._bench.tone_name))

    def _talk(self) -> None:
        for words in [*self._calls] * 2:
            self._bench.sound.microphone.say(self._sounds[words])
            self._bench.sound.microphone.say(np.zeros(RATE // 2, np.int16))
        self._until(lambda: not self._bench.sound.microphone.saying(), limit_s=120.0)

    def _quiet(self) -> None:
        """Wait until it has not spoken for a moment."""
        speaker = self._bench.sound.speaker
        since = time.monotonic()
        self._until(lambda: time.monotonic() - max(since, speaker.last_sound_at()) > PAUSE_S)

    @staticmethod
    def _load(do: Callable[[], None]) -> float:
        """The share of one core that the process takes meanwhile."""
        busy, began = time.process_time(), time.monotonic()
        do()
        return (time.process_time() - busy) / (time.monotonic() - began)

    @staticmethod
    def _until(there: Callable[[], bool], limit_s: float = PATIENCE_S) -> None:
        limit = time.monotonic() + limit_s
        while not there():
            if time.monotonic() > limit:
                raise TimeoutError("the loop does not answer")
            time.sleep(0.01)


def _kind(words: str) -> str:
    meaning = parse(words, Scale())
    if not isinstance(meaning, Reading):
        return "commands"
    return "readings with a unit" if meaning.unit else "readings without"


def spoken() -> dict[str, Samples]:
    """All that is said, spoken by the first of the recorded voices."""
    bank = SpeechBank(voices()[0])
    return {words: bank.say(words) for words in {*READY, *CALLS}}


def trial(
    folder: Path,
    err: TextIO,
    sounds: Sounds,
    engine: Engine = "auto",
    *,
    calls: Sequence[str] = CALLS,
    commands: int = len(READY),
    idle_s: float = IDLE_S,
) -> dict[str, Any]:
    """Run the loop in this process, its record in this folder; the figures.

    So many ``commands`` are spoken before the calls; those before them are typed.
    """
    with ExitStack() as stack:
        journal = stack.enter_context(Journal.open(folder / "jobs.db"))
        quiet = stack.enter_context((folder / "typed").open("w+", encoding="utf-8"))
        bench = _TimedBench(journal, engine, quiet, err)
        bench.open(stack)
        person = _Person(bench, sounds, calls, commands, idle_s)
        thread = threading.Thread(target=person.run, name="person")
        thread.start()
        bench.play()
        thread.join()
    return {
        "rounds": person.rounds, "cpu": person.cpu, "fault": person.fault,
        "unanswered": person.unanswered, "engine": bench.engine_name,
        "first_prompt_at": bench.first_prompt_at, "peak_mb": peak_mb(),
    }  # fmt: skip


def peak_mb() -> float:
    """The most memory that this process has had so far."""
    status = Path("/proc/self/status")
    if status.exists():
        # Better than getrusage's, which begins with what the starting process had.
        found = re.search(r"VmHWM:\s+(\d+) kB", status.read_text(encoding="ascii"))
        if found:
            return int(found[1]) / 1e3
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


HERE = "--here"
"""What the process is told that is to run the trial itself, with the file of what is said."""


def live_tables(engine: Engine = "auto", slower: float = 1.0) -> str:
    """Run the trial in a process of its own, so many times slower; its tables."""
    with tempfile.TemporaryDirectory() as folder:
        # The recordings of a whole voice are no part of the program: 14 MB.
        file = Path(folder) / "spoken.json"
        said = {words: samples.tobytes().hex() for words, samples in spoken().items()}
        file.write_text(json.dumps(said), encoding="ascii")
        began = time.time()
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.live_trial", "--engine", engine, HERE, file],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        with process, Slowed(process.pid, slower):
            out, err = process.communicate()
    if process.returncode:
        return f"it could not be run: {err.strip().splitlines()[-1:]}\n"
    told = json.loads(out)
    head = f"heard by {told['engine']}, {told['slower_by']:.1f} times slower than this processor\n"
    goals = GOALS if slower == 1 else SLOWER_GOALS
    costs = cost_table(told, told["first_prompt_at"] - began) if slower == 1 else ""
    return head + latency_table(told["rounds"], goals) + costs + shortfall(told)


KIND = "tone, "
"""Before the kind of what was said: the same time, of this kind alone."""

GOALS = {
    "END OF SPEECH TO TONE": Goal(400),
    "sure that it ended": Goal(350),
}

SLOWER_GOALS = {"END OF SPEECH TO TONE": Goal(700)}
"""On a processor five times slower."""


def latency_table(rounds: list[dict[str, float]], goals: dict[str, Goal] = GOALS) -> str:
    """Each stage in milliseconds."""
    if not rounds:
        return "nobody was answered\n"
    known = sum(each["known"] for each in rounds)
    head = f"{len(rounds)} utterances, ms"
    rows = [f"{head:28}{'number':>7}{'median':>14}{'95 %':>8}{'worst':>8}"]
    names = dict.fromkeys(name for each in rounds for name in each if name != "known")
    for stage in sorted(names, key=lambda name: name.startswith(KIND)):
        ms = 1000 * np.array([each[stage] for each in rounds if stage in each])
        middle = cell(float(np.median(ms)), goals.get(stage), 0 if stage in goals else 1)
        rows.append(f"{stage:28}{len(ms):7}{middle:>14}{np.percentile(ms, 95):8.1f}{ms.max():8.1f}")
    rows.append(
        f"of the prompts {known:.0f} were whole in the cache; to each comes what the sound card "
        "holds: 30 ms are asked for"
    )
    return "\n".join(rows) + "\n"


def cost_table(told: dict[str, Any], start_s: float) -> str:
    """Processor and memory."""
    cpu = told["cpu"]
    rows = [
        ("processor while nobody speaks", 100 * cpu.get("idle", np.nan), "% of a core", Goal(5)),
        ("processor in speech", 100 * cpu.get("speech", np.nan), "% of a core", Goal(30)),
        ("most memory", told["peak_mb"], "MB", Goal(350)),
        ("start to the first prompt", start_s, "s", Goal(2)),
    ]
    lines = [f"{name:30}{cell(value, goal):>14} {unit}" for name, value, unit, goal in rows]
    return "\n".join(lines) + "\n"


def shortfall(told: dict[str, Any]) -> str:
    """What was said without an answer, and why the trial was cut short, if it was."""
    unanswered = f"taken for talk: {', '.join(told['unanswered'])}\n" * bool(told["unanswered"])
    return unanswered + f"cut short: {told['fault']}\n" * bool(told["fault"])


def main(argv: Sequence[str] | None = None) -> int:
    """Print the tables, or run it here and print the figures as JSON."""
    parser = argparse.ArgumentParser(prog="live_trial", description="The live loop timed.")
    parser.add_argument("--engine", choices=ENGINES, default="auto")
    parser.add_argument("--slower", type=float, default=1.0, metavar="TIMES")
    parser.add_argument(HERE, type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args(argv)
    if given.here is None:
        sys.stdout.write(live_tables(given.engine, given.slower))
        return 0
    by = slower_by()
    with tempfile.TemporaryDirectory() as folder:
        plain = json.loads(given.here.read_text(encoding="ascii"))
        said = {words: np.frombuffer(bytes.fromhex(it), np.int16) for words, it in plain.items()}
        told = trial(Path(folder), sys.stderr, said, given.engine)
    sys.stdout.write(json.dumps(told | {"slower_by": by}) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
