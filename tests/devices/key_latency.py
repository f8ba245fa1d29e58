"""From a key to its tone, stage by stage, as a table. Run as a module.

The key comes as a byte through prompt_toolkit's input, the event goes into a real record on
the disk, the tone goes to PortAudio through a PulseAudio of our own with a pretended speaker.
What the loudspeaker itself adds is PortAudio's figure for the device.
"""

import queue
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from prompt_toolkit.input import create_pipe_input

from assistant.bench.loop import Loop
from assistant.devices.keys.keypad import Key, Stroke
from assistant.devices.keys.terminal_keys import TerminalKeys
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.library import PortAudio
from assistant.devices.sound.speaker import Speaker
from assistant.devices.voice.tones import tone
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Heard, KeyPressed, Tone
from assistant.records.journal.journal import Journal
from grammar.parse import parse
from tests.devices.private_pulse import PrivatePulse, what_is_missing

PRESSES = 120
AT = "2026-03-01T10:00:00.000Z"


class _TimedSpeaker(Speaker):
    """Notes when the device takes the first sample of a sound."""

    taken: "queue.Queue[float]"

    def _give(self, data: memoryview, frames: int) -> None:
        super()._give(data, frames)
        if np.frombuffer(data, np.int16).any():
            self.taken.put(time.perf_counter())


def measure(folder: Path) -> None:
    """Press keys and print the table."""
    strokes: queue.Queue[tuple[float, Stroke]] = queue.Queue()
    rows: list[tuple[float, float, float]] = []
    chance = np.random.default_rng(1)
    speaker = _TimedSpeaker(PortAudio("speaker"), None, lambda _reason: None, HalfDuplex())
    speaker.taken = queue.Queue()

    def perform(effect: Effect) -> None:
        if isinstance(effect, Tone):
            speaker.play(tone(effect.name, 48_000), 48_000)

    with Journal.open(folder / "jobs.db") as journal, speaker, create_pipe_input() as pipe:
        loop = Loop(journal, Profile(), perform)
        loop.open_job()
        for words in ("yes", "yes", "yes", "yes", "locked", "zeroed"):
            assert loop.state is not None
            meaning = parse(words, loop.state.profile.scale)
            loop.post(Heard(AT, loop.state.turn, "text", "accept", words, meaning))
        # A pretended speaker pauses for two seconds after its start: let it wake up.
        speaker.play(np.ones(24_000, np.int16), 48_000)
        speaker.taken.get(timeout=10)
        speaker.wait(10)
        with TerminalKeys(lambda stroke: strokes.put((time.perf_counter(), stroke)), source=pipe):
            for number in range(PRESSES):
                time.sleep(0.15 + 0.05 * chance.random())
                while not speaker.taken.empty():
                    speaker.taken.get()
                pressed = time.perf_counter()
                pipe.send_text("+" if number % 2 else "-")
                told, stroke = strokes.get(timeout=5)
                assert isinstance(stroke, Key)
                loop.post(KeyPressed(AT, loop.state.turn if loop.state else 0, stroke.name))
                played = time.perf_counter()
                taken = speaker.taken.get(timeout=5)
                rows.append((told - pressed, played - told, taken - played))
        stream = speaker._stream
        latency_ms = 1000 * stream.latency_s if stream is not None else float("nan")
    _print(np.array(rows) * 1000, latency_ms)


def _print(ms: "np.typing.NDArray[np.float64]", latency_ms: float) -> None:
    out = sys.stdout
    out.write(f"key to tone, {len(ms)} presses          median    95 %   worst   (ms)\n")
    names = ("key to program", "record, step, tone ready", "until the device takes it")
    for name, column in [*zip(names, ms.T, strict=True), ("together", ms.sum(axis=1))]:
        out.write(
            f"{name:<32}{np.median(column):8.1f}{np.percentile(column, 95):8.1f}"
            f"{column.max():8.1f}\n"
        )
    out.write(f"{'device (as PortAudio reports it)':<32}{latency_ms:8.1f}\n")


def main() -> int:
    """Start the pretended speaker, then measure in a process that lives under it."""
    if sys.argv[1:] == ["inner"]:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder))
        return 0
    missing = what_is_missing()
    if missing:
        sys.stderr.write(f"{missing}\n")
        return 1
    with PrivatePulse() as pulse:
        done = subprocess.run(
            [sys.executable, "-m", "tests.devices.key_latency", "inner"],
            env=pulse.environment, stderr=subprocess.DEVNULL, check=False,
        )  # fmt: skip
    return done.returncode


if __name__ == "__main__":
    sys.exit(main())
