"""The real PortAudio, through pretended devices and back."""

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

import numpy as np
import numpy.typing as npt
import pytest
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.library import BLOCK_S
from assistant.devices.sound.microphone import RATE
from assistant.devices.voice.synthesis import Voice
from tests.devices.private_pulse import PrivatePulse, what_is_missing

BLOCK = round(BLOCK_S["microphone"] * RATE)

pytestmark = [
    pytest.mark.audio_path,
    pytest.mark.skipif(bool(what_is_missing()), reason=what_is_missing() or "-"),
]

ROOT = Path(__file__).parents[2]
LOOK_S = 0.01
"""How often a recording is looked at: all the time would take a core from what is recorded."""

Floats = npt.NDArray[np.float64]


@pytest.fixture(scope="module")
def pulse() -> Iterator[PrivatePulse]:
    with PrivatePulse() as server:
        yield server


class Program:
    """The program under test, with its microphone and speaker open."""

    def __enter__(self) -> "Program":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._process.kill()
        self._process.communicate()

    def __init__(self, pulse: PrivatePulse, target: Path, *flags: str) -> None:
        self.target = target
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.devices.live_audio", str(target), *flags],
            cwd=ROOT, env=pulse.environment, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self.told: list[dict[str, object]] = []

    def until(self, key: str, value: object = None) -> dict[str, object]:
        """Read what it tells until a row has this key (and value)."""
        while True:
            row = self.next()
            if key in row and value in (None, row[key]):
                return row

    def next(self) -> dict[str, object]:
        """The next thing that it tells."""
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        assert line, f"it ended; told {self.told}"
        row: dict[str, object] = json.loads(line)
        self.told.append(row)
        return row

    def order(self, line: str) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(line + "\n")
        self._process.stdin.flush()

    def quit(self) -> dict[str, object]:
        self.order("quit")
        last = self.until("overruns")
        self._process.wait(30)
        return last

    def heard(self) -> Floats:
        """What its microphone recorded, at 16 kHz."""
        return np.fromfile(self.target, np.int16).astype(np.float64)


@pytest.fixture(scope="module")
def speech() -> npt.NDArray[np.int16]:
    samples, rate = Voice().synthesise("front plus six, right minus two and a half")
    sound = soxr.resample(samples.astype(np.float32), rate, 16_000)
    return np.asarray(sound * 0.5, np.int16)


def _likeness(sound: Floats, pattern: Floats) -> tuple[float, int]:
    """The best normalised correlation of a pattern in a sound, and where."""
    if len(sound) < len(pattern):
        return 0.0, 0
    size = 1 << (len(sound) + len(pattern)).bit_length()
    product = np.fft.rfft(sound, size) * np.conj(np.fft.rfft(pattern, size))
    match = np.fft.irfft(product, size)[: len(sound) - len(pattern) + 1]
    energy = np.concatenate([[0.0], np.cumsum(sound**2)])
    window = energy[len(pattern) :] - energy[: -len(pattern)]
    score = match / np.sqrt(np.maximum(window, 1.0) * float(pattern @ pattern))
    best = int(np.argmax(score))
    return float(score[best]), best


def _wait_for_growth(path: Path, samples: int) -> None:
    """Wait until a recording is this much longer: time that passes in the device's clock."""
    size = path.stat().st_size
    deadline = time.monotonic() + 30
    while path.stat().st_size < size + 2 * samples:
        assert time.monotonic() < deadline, "the recording does not grow"
        time.sleep(LOOK_S)


def _wait_for_sound(path: Path, begin: int) -> None:
    """Wait until something loud was recorded after this sample."""
    deadline = time.monotonic() + 30
    while True:
        raw = path.read_bytes()
        after = np.frombuffer(raw[: len(raw) // 2 * 2], np.int16)[begin:]
        if len(after) and np.abs(after.astype(int)).max() > 1_000:
            return
        assert time.monotonic() < deadline, "nothing is heard"
        time.sleep(LOOK_S)


@pytest.fixture(scope="module")
def program(pulse: PrivatePulse, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Program]:
    """One that stays open for several tests: each start waits for the devices to wake up."""
    with Program(pulse, tmp_path_factory.mktemp("audio") / "heard.raw") as running:
        running.until("open")
        yield running
        assert running.quit() == {"overruns": 0}


def test_what_is_said_into_the_microphone_arrives(
    pulse: PrivatePulse, program: Program, speech: npt.NDArray[np.int16]
) -> None:
    pulse.say_into_microphone(speech.tobytes(), 16_000).wait(30)
    _wait_for_growth(program.target, 8_000)
    likeness, _ = _likeness(program.heard(), speech.astype(np.float64))
    assert likeness > 0.9
    assert [row for row in program.told if "gap" in row] == [{"gap": BLOCK}], "no xruns"


def test_what_is_said_comes_out_of_the_speaker_and_can_be_cut_off(
    pulse: PrivatePulse, program: Program, tmp_path: Path
) -> None:
    recording = tmp_path / "speaker.raw"
    with pulse.recorder(recording):
        program.order("say Shim three above the bolt")
        said = program.until("said")
        _wait_for_growth(recording, 48_000 // 2)
        begin = recording.stat().st_size // 2
        program.order("begin Correction, right minus one five" + ", and on and on and on" * 4)
        program.until("began")
        _wait_for_sound(recording, begin)
        program.order("cut")
        assert program.until("cut") == {"cut": True}
        cut_at = recording.stat().st_size // 2
        _wait_for_growth(recording, 48_000)
    out = np.fromfile(recording, np.int16).astype(np.float64)
    samples = np.load(program.target.with_suffix(".said.npy")).astype(np.float32)
    pattern = np.asarray(soxr.resample(samples, said["rate"], 48_000), np.float64)
    # In pieces: a busy machine may let the device run dry once.
    pieces = [_likeness(out, piece) for piece in np.array_split(pattern, 4)]
    assert sum(likeness > 0.9 for likeness, _ in pieces) >= 3, pieces
    # 0.3 s covers the buffers of PortAudio, the server and the recorder.
    assert np.abs(out[cut_at + round(0.3 * 48_000) :]).max() < 10, "and stopped"


def test_the_last_words_are_heard_to_their_end(pulse: PrivatePulse, tmp_path: Path) -> None:
    recording = tmp_path / "speaker.raw"
    with pulse.recorder(recording), Program(pulse, tmp_path / "heard.raw") as program:
        program.until("open")
        program.order("last 0.5")
        assert program.until("said")["said"] is True
        program.until("overruns")
        _wait_for_growth(recording, 48_000 // 4)
    heard = np.flatnonzero(np.abs(np.fromfile(recording, np.int16).astype(int)) > 50)
    # The buffers of PortAudio alone hold 30 ms, which may not be missing at the end.
    assert (heard[-1] - heard[0]) / 48_000 == pytest.approx(0.5, abs=0.005)


def _heard_of_itself(pulse: PrivatePulse, program: Program) -> float:
    """The loudest that reaches the ears when the microphone stands in front of the speaker."""
    before = len(program.heard())
    with pulse.speaker_heard():
        program.order("say Front plus six, right minus one five")
        program.until("said")
        _wait_for_growth(program.target, 16_000)
    return float(np.abs(program.heard()[before:]).max())


def test_it_does_not_hear_itself(pulse: PrivatePulse, program: Program) -> None:
    assert _heard_of_itself(pulse, program) < 10


def test_with_a_headset_it_hears_all_the_time(pulse: PrivatePulse, tmp_path: Path) -> None:
    with Program(pulse, tmp_path / "heard.raw", "--headset") as listening:
        listening.until("open")
        assert _heard_of_itself(pulse, listening) > 1_000
        listening.quit()


def test_pulled_out_and_put_back_by_itself(tmp_path: Path, speech: npt.NDArray[np.int16]) -> None:
    with PrivatePulse() as pulse, Program(pulse, tmp_path / "heard.raw") as program:
        program.until("open")
        _wait_for_growth(program.target, 8_000)
        pulse.kill()
        lost: set[str] = set()
        while lost != {"mic", "speaker"}:
            lost |= {"mic", "speaker"} & set(program.next())
        before = program.target.stat().st_size // 2
        pulse.start()
        program.until("mic", "back")
        _wait_for_growth(program.target, 16_000)
        pulse.say_into_microphone(speech.tobytes(), 16_000).wait(30)
        _wait_for_growth(program.target, 8_000)
        program.order("say Back")
        assert program.until("said")["said"] is True
        program.quit()
        likeness, _ = _likeness(program.heard()[before:], speech.astype(np.float64))
        assert likeness > 0.9
        assert {"gap": before + BLOCK} in program.told, "an open utterance is not trusted"


def test_the_check_tells_a_dead_microphone_from_a_live_one(
    pulse: PrivatePulse, tmp_path: Path
) -> None:
    """The pretended microphone gives zeros until something is played into it."""

    def checked() -> dict[str, dict[str, str]]:
        done = subprocess.run(
            [sys.executable, "-m", "tests.devices.run_check", str(tmp_path / "jobs.db")],
            cwd=ROOT, env=pulse.environment, capture_output=True, text=True, check=True,
            stdin=subprocess.DEVNULL,
        )  # fmt: skip
        assert done.stderr == ""
        return {row["part"]: row for row in json.loads(done.stdout)["parts"]}

    dead = checked()
    assert dead["speaker"]["status"] == "ok"
    assert "nothing but zeros" in dead["microphone"]["found"]
    hiss = np.asarray(np.random.default_rng(1).normal(0, 30, 16_000 * 30), np.int16)
    player = pulse.say_into_microphone(hiss.tobytes(), 16_000)
    live = checked()
    player.kill()
    player.wait()
    assert live["microphone"]["status"] == "ok"
    assert live["room"]["status"] == "ok"
