"""The command ``run`` at a pretended bench: spoken, typed and keyed, the sound pulled out
in the middle of a sweep and put back."""

import contextlib
import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
import pytest

from assistant.dialogue.step import fold
from assistant.metrology.lengths import Length
from assistant.records.journal.journal import Journal
from assistant.records.machines.folder import Shelf
from assistant.simulation.speech import SpeechBank, voices
from tests.devices.private_pulse import PrivatePulse, what_is_missing

pytestmark = [
    pytest.mark.audio_path,
    pytest.mark.skipif(bool(what_is_missing()), reason=what_is_missing() or "-"),
]

ROOT = Path(__file__).parents[2]
SILENT_S = 0.35
LOOK_S = 0.02
FAST = ("--rate", "200")
"""Whoever speaks waits for the end of what is said."""

PATIENCE_S = 40.0
"""The program says something within this time, or the test has failed."""


class LiveJob:
    """The running program, its JSON lines, and a person who waits until it has spoken."""

    def __init__(self, pulse: PrivatePulse, folder: Path, *flags: str) -> None:
        self._pulse = pulse
        self._folder = folder
        self._lines: queue.Queue[str] = queue.Queue()
        self._reader = threading.Thread(target=self._read)
        self.rows: list[dict[str, Any]] = []
        self._players: list[subprocess.Popen[bytes]] = []
        self._bank = SpeechBank(voices()[0])
        self._process = subprocess.Popen(
            [sys.executable, "-m", "assistant", "run", "--db", str(folder / "jobs.db"), "--json",
             *flags],
            cwd=ROOT, env={**pulse.environment, "XDG_CONFIG_HOME": str(folder)}, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def __enter__(self) -> "LiveJob":
        self._reader.start()
        return self

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._lines.put(line)
        self._lines.put("")

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._process.kill()
        self._reader.join()
        for stream in (self._process.stdin, self._process.stdout):
            assert stream is not None
            stream.close()
        self._process.wait()
        for player in self._players:
            player.kill()
            player.wait()

    def until(self, limit_s: float = PATIENCE_S, **wanted: str) -> dict[str, Any]:
        """Read lines until one has these values; events are looked into."""
        while line := self._lines.get(timeout=limit_s):
            told: dict[str, Any] = json.loads(line)
            row: dict[str, Any] = told.get("event", told)
            self.rows.append(row)
            if all(row.get(key) == value for key, value in wanted.items()):
                return row
        raise AssertionError(f"ended before {wanted}; told {self.rows[-5:]}")

    def type(self, line: str) -> None:
        """Type a line, as in a plain terminal."""
        assert self._process.stdin is not None
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def say(self, words: str) -> None:
        """Wait until the program has been silent for a moment, then speak."""
        recording = self._folder / f"speaker{len(self.rows)}.raw"
        with self._pulse.recorder(recording):
            deadline = time.monotonic() + 30
            while not _silent_at_last(recording):
                assert time.monotonic() < deadline, "it never stops speaking"
                time.sleep(LOOK_S)
        self.speak(words)

    def speak(self, words: str, voice: str | None = None) -> None:
        """Speak now, whatever the program is doing; another recorded voice may do it."""
        bank = SpeechBank(voice) if voice else self._bank
        sound = [bank.quiet(0.2), bank.say(words), bank.quiet(0.5)]
        raw = np.concatenate(sound).tobytes()
        self._players.append(self._pulse.say_into_microphone(raw, 16_000))

    def answer(self, words: str, **wanted: str) -> None:
        """Speak until the job goes on: what is asked back is agreed to or said again.

        How often that happens is the recogniser's business and measured elsewhere.
        """
        for _ in range(4):
            self.say(words)
            try:
                listen = self.until(limit_s=8.0, effect="listen")
            except queue.Empty:
                # Said while the program was just beginning to speak: said once more.
                continue
            if "yes" in listen["offers"] and wanted.get("phase") != "key out":
                self.type("yes")
                listen = self.until(effect="listen")
            if all(listen.get(key) == value for key, value in wanted.items()):
                return
        raise AssertionError(f"{words!r} was not understood: {self.rows[-3:]}")

    def stop(self) -> int:
        """Stop by typed words; the exit code."""
        self.type("stop")
        self.until(effect="listen")
        self.type("yes")
        self.until(effect="closed")
        return self._process.wait(30)

    def kept(self) -> list[tuple[str, str]]:
        """The readings of the first sweep in the record, and from where, in order."""
        with Journal.open(self._folder / "jobs.db", write=False) as journal:
            state = fold(journal.events(journal.jobs()[0].id))
        assert state is not None
        called = [taken for taken in state.sweeps[0].readings if not taken.zeroed]
        return [(str(taken.value), taken.source) for taken in called]


def _silent_at_last(recording: Path) -> bool:
    raw = recording.read_bytes()
    samples = np.frombuffer(raw[: len(raw) // 2 * 2], np.int16)[-round(SILENT_S * 48_000) :]
    return len(samples) >= SILENT_S * 48_000 and int(np.abs(samples.astype(int)).max()) < 20


@pytest.fixture
def job(tmp_path: Path) -> Iterator[tuple[LiveJob, PrivatePulse]]:
    with PrivatePulse() as pulse, LiveJob(pulse, tmp_path, *FAST) as running:
        yield running, pulse


def test_a_sweep_with_the_sound_pulled_out_in_the_middle(
    job: tuple[LiveJob, PrivatePulse],
) -> None:
    live, pulse = job
    live.until(effect="listen", phase="unplugged")
    live.answer("yes", phase="key out")
    for words, phase in [("yes", "table held"), ("yes", "set up"), ("yes", "lock"),
                         ("locked", "zero"), ("zeroed", "sweep")]:  # fmt: skip
        live.type(words)
        live.until(effect="listen", phase=phase)
    live.answer("plus two and a half", station="front")

    pulse.kill()
    live.until(kind="device_lost", device="microphone")
    live.type("+5.5")
    live.until(effect="listen", station="left")
    pulse.start()
    live.until(kind="device_back", device="microphone")
    live.answer("plus three", station="back")
    live.answer("zero", phase="loosen")
    result = next(row for row in live.rows if row.get("effect") == "result")

    # Front minus back and right minus left are the plain differences (four stations).
    assert result["front_minus_back"] == pytest.approx(5.5)
    assert result["right_minus_left"] == pytest.approx(-0.5)
    assert live.stop() == 0
    values, sources = zip(*live.kept(), strict=True)
    assert values == ("2.5", "5.5", "3", "0")
    assert sources[1] == "keypad"
    # What was asked back is put down as agreed to by typing.
    assert sources.count("voice") >= 2


INTRODUCTION = (
    ("yes", "way of measuring", True), ("yes", "dial unit", False), ("yes", "dial face", False),
    ("yes", "dial range", False), ("yes", "size of sweep", False),
    ("twelve inches", "squareness", True), ("yes", "unplugged", False),
)  # fmt: skip
"""What a person answers who has never used it, what is asked next, and whether it is spoken.

An answer of each kind is spoken: the rest would only take longer.
"""


def test_a_first_machine_is_made_by_voice(tmp_path: Path) -> None:
    with PrivatePulse() as pulse, LiveJob(pulse, tmp_path, "--ask", *FAST) as live:
        listen = live.until(effect="listen", phase="kind of machine")
        for words, phase, spoken in INTRODUCTION:
            if not spoken:
                live.type(words)
                listen = live.until(effect="listen", phase=phase)
            tries = 0
            while listen["phase"] != phase:
                tries += 1
                assert tries < 6, f"{words!r} was not understood: {live.rows[-3:]}"
                live.say(words)
                # What is said while the program begins to speak is said once more.
                with contextlib.suppress(queue.Empty):
                    listen = live.until(limit_s=8.0, effect="listen")
        assert live.stop() == 0
    made = Shelf(tmp_path / "sweepsay" / "machines").load("bench drill press")
    assert made.sweep_diameter == Length.of(12, "in")
