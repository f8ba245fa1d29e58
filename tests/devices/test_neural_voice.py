"""The neural voice and its compression: real speech, and what happens without its parts."""

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from assistant.devices.faults import DeviceFault
from assistant.devices.voice import neural_voice
from assistant.devices.voice.compression import SLOPE, compressed
from assistant.devices.voice.mouth import Mouth, louder
from assistant.devices.voice.neural_voice import MODEL, NeuralVoice
from assistant.devices.voice.speech_engine import Best, Speech, VoiceSettings
from assistant.devices.voice.synthesis import PAUSE_S, Samples, Voice
from assistant.devices.voice.vocal_effort import SLOWER, VocalEffort
from assistant.simulation.noise import active_level_db

neural = pytest.mark.skipif(
    not neural_voice.is_there(), reason="the neural voice's packages are not installed"
)


@pytest.fixture(scope="module")
def voice() -> Voice:
    return Voice()


@neural
def test_it_speaks_unless_a_voice_of_espeak_is_named(voice: Voice) -> None:
    ours, _ = voice.synthesise("Shim seven above the bolt.")
    named, _ = Voice(VoiceSettings("en-us+f2")).synthesise("Shim seven above the bolt.")
    assert len(ours) != len(named)


@neural
def test_a_sentence_is_the_same_samples_every_time(voice: Voice) -> None:
    other = Voice()
    first, _ = voice.synthesise("Left minus one three.")
    again, _ = other.synthesise("Left minus one three.")
    assert voice is not other
    assert np.array_equal(first, again)


@neural
@pytest.mark.parametrize("rate", [120, 165, 200])
def test_its_pace_is_the_rate_that_was_asked_for(rate: int) -> None:
    text = "Loosen the tilt bolt, not all the way."
    usual, _ = Voice(VoiceSettings(rate_wpm=165)).synthesise(text)
    paced, _ = Voice(VoiceSettings(rate_wpm=rate)).synthesise(text)
    assert len(paced) / len(usual) == pytest.approx(165 / rate, rel=0.15)


@neural
def test_every_sentence_is_about_as_loud(voice: Voice) -> None:
    levels = []
    for text in ("Back?", "Say settle: does the dial repeat?", "Front high two and a half."):
        samples, _ = voice.synthesise(text)
        levels.append(active_level_db(samples / 32768))
    assert max(levels) - min(levels) < 3.0


@neural
def test_a_plus_and_a_minus_and_teens_and_tens_differ(voice: Voice) -> None:
    said = [voice.synthesise(f"Front {call}.")[0] for call in ("plus one five", "plus five zero")]
    assert abs(len(said[0]) - len(said[1])) > 300


@neural
def test_marks_that_it_does_not_know_are_left_out(voice: Voice) -> None:
    samples, _ = voice.synthesise("Größe „sechs“ ✓ 東")
    assert len(samples) > 1000


def _without(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(neural_voice, "_folder", lambda: folder)


@neural
def test_another_file_in_its_place_is_refused_before_it_is_loaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file in neural_voice._folder().glob("*.json"):
        shutil.copy(file, tmp_path)
    (tmp_path / MODEL).write_bytes(b"\x08\x07 not the model")
    _without(tmp_path, monkeypatch)
    with pytest.raises(DeviceFault, match="not the file that was tested"):
        NeuralVoice(lambda text: text)


def test_a_package_without_its_model_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(neural_voice, "PACKAGE", "grammar")
    with pytest.raises(DeviceFault, match="holds no"):
        NeuralVoice(lambda text: text)
    monkeypatch.setattr(neural_voice, "PACKAGE", "no_such_voice_package")
    assert not neural_voice.is_there()
    with pytest.raises(DeviceFault, match="is not installed"):
        NeuralVoice(lambda text: text)


@neural
def test_without_the_runtime_the_reason_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "onnxruntime", None)
    with pytest.raises(DeviceFault, match="onnxruntime cannot be loaded"):
        NeuralVoice(lambda text: text)


class _Named:
    def __init__(self, name: str) -> None:
        self.name, self.spoken = name, list[str]()

    def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
        self.spoken.append(text)
        return Speech(np.zeros(10, np.int16), 16_000)


def test_espeak_speaks_where_there_is_no_other() -> None:
    first, second = _Named("neural"), _Named("espeak")
    Best(first, second).synthesise("one", VoiceSettings())
    Best(first, second).synthesise("two", VoiceSettings("en-us+f3"))
    Best(None, second, "why").synthesise("three", VoiceSettings())
    assert (first.spoken, second.spoken) == (["one"], ["two", "three"])


def _steps(*levels_db: float, rate: int = 16_000) -> np.ndarray:
    tone = np.sin(2 * np.pi * 440 * np.arange(rate // 2) / rate)
    return np.concatenate([tone * 10 ** (db / 20) for db in levels_db])


def test_compression_leaves_a_third_of_a_difference_in_level() -> None:
    made = compressed(_steps(0.0, -20.0), 16_000)
    loud, soft = (
        20 * np.log10(np.sqrt(np.mean(part**2))) for part in (made[2000:6000], made[10000:14000])
    )
    assert loud - soft == pytest.approx(20 * SLOPE, abs=0.3)


def test_compression_lifts_breath_no_further_than_the_knee() -> None:
    made = compressed(_steps(0.0, -60.0), 16_000)
    gain = 20 * np.log10(np.std(made[10000:14000]) / np.std(_steps(-60.0)))
    assert gain == pytest.approx(30 * (1 - SLOPE), abs=0.5)


def test_compression_of_silence_and_of_next_to_nothing() -> None:
    assert not compressed(np.zeros(500), 16_000).any()
    assert compressed(np.array([0.5]), 16_000).shape == (1,)
    assert compressed(np.zeros(0), 16_000).shape == (0,)


def test_the_voice_rises_by_half_of_the_noise_and_slows_down_in_much_of_it() -> None:
    effort = VocalEffort()
    told = []
    for noise_db in (-70, -56, -53, -50, -46, -30, -10):
        effort.feed(noise_db)
        told.append((effort.gain_db, effort.pace))
    assert told == [
        (0, 1), (0, 1), (2, 1), (3, SLOWER), (4, SLOWER), (4, SLOWER), (4, SLOWER)
    ]  # fmt: skip


def test_a_room_that_breathes_does_not_change_the_voice() -> None:
    effort = VocalEffort()
    effort.feed(-50.0)
    for noise_db in (-51.0, -49.5, -50.6, -48.9):
        effort.feed(noise_db)
        assert effort.gain_db == 3.0


def test_louder_stays_below_full_scale() -> None:
    soft = np.array([100, -8_000, 50], np.int16)
    assert louder(soft, 4.0)[1] == pytest.approx(-8_000 * 10**0.2, abs=1)
    assert np.max(np.abs(louder(np.array([30_000], np.int16), 4.0))) <= 32_000
    assert louder(np.array([32_767], np.int16), 4.0)[0] == 32_767


def test_the_mouth_speaks_up_and_comes_back() -> None:
    noise_db = [-70.0]
    voice = Voice(engine=_Paced())
    played: list[tuple[int, int]] = []

    class Speaker:
        def play(self, samples: Samples, _rate: int) -> None:
            played.append((len(samples), int(np.max(samples))))

    mouth = Mouth(voice, Speaker(), lambda _: None, noise_db=lambda: noise_db[0])  # type: ignore[arg-type]
    for level in (-70.0, -40.0, -70.0):
        noise_db[0] = level
        mouth.say("Right?")
    (usual, loud), (slow, raised), back = played
    assert slow > usual
    assert raised == pytest.approx(loud * 10**0.2, abs=2)
    assert back == (usual, loud)


class _Paced:
    """Speech that is as long as its rate says."""

    def synthesise(self, _text: str, settings: VoiceSettings) -> Speech:
        return Speech(np.full(100_000 // settings.rate_wpm, 5_000, np.int16), 16_000)


def test_the_first_sentence_is_heard_while_the_second_is_made() -> None:
    happened: list[str] = []

    class Engine:
        def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
            happened.append(f"made {text}")
            return Speech(np.full(800, 5_000, np.int16), 16_000)

    class Speaker:
        def play(self, samples: Samples, _rate: int) -> None:
            happened.append(f"played {len(samples)}")

    mouth = Mouth(Voice(engine=Engine()), Speaker(), lambda _: None)  # type: ignore[arg-type]
    happened.clear()
    mouth.say("Front high six. Left high two.")
    pause = round(PAUSE_S * 16_000)
    assert happened == [
        "made Front high six.",
        "played 800",
        "made Left high two.",
        f"played {800 + pause}",
    ]


@pytest.mark.skipif(sys.platform != "linux", reason="memory is read from /proc of Linux")
def test_what_a_long_sentence_took_is_given_back() -> None:
    code = """
from pathlib import Path
from assistant.devices.voice.synthesis import Voice

def used_mb():
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1000 for line in lines if line.startswith("VmRSS"))

voice = Voice()
before = used_mb()
for number in range(3):
    voice.synthesise(f"Say {number}, " + "right plus or minus a number, read back, " * 3)
print(used_mb() - before)
"""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert float(done.stdout) < 30
