"""The command ``run`` with its real sound path: spoken over, keyed over, devices by name."""

import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from assistant.devices.voice.speech_engine import VoiceSettings
from assistant.devices.voice.synthesis import Samples, Voice
from tests.devices.private_pulse import PrivatePulse, what_is_missing
from tests.devices.test_audio_path import _wait_for_growth, _wait_for_sound
from tests.devices.test_live_job import ROOT, LiveJob, _silent_at_last

pytestmark = [
    pytest.mark.audio_path,
    pytest.mark.skipif(bool(what_is_missing()), reason=what_is_missing() or "-"),
]

SLOW = ("--rate", "100")
"""The prompt that is talked over lasts about ten seconds then."""


@pytest.fixture(scope="module")
def pulse() -> Iterator[PrivatePulse]:
    with PrivatePulse() as server:
        yield server


@pytest.mark.parametrize("how", ["spoken over", "keyed over"])
def test_what_is_being_said_is_cut_off(pulse: PrivatePulse, tmp_path: Path, how: str) -> None:
    recording = tmp_path / "speaker.raw"
    with LiveJob(pulse, tmp_path, "--headset", *SLOW) as live:
        live.until(effect="listen", phase="unplugged")
        for phase in ("key out", "table held"):
            live.type("yes")
            live.until(effect="listen", phase=phase)
        with pulse.recorder(recording):
            while not _silent_at_last(recording):
                _wait_for_growth(recording, 4_800)
            begin = recording.stat().st_size // 2
            live.type("yes")
            text = str(live.until(effect="say")["text"])
            # A long prompt is made before it is listened: what is said meanwhile is not heard.
            live.until(effect="listen")
            _wait_for_sound(recording, begin)
            _wait_for_growth(recording, 48_000)
            if how == "spoken over":
                # Heard while it speaks, since a headset is declared; two syllables that are
                # sure, for how well single words are heard is measured elsewhere.
                live.speak("stand by", "rms")
                heard = live.until(kind="heard", source="voice")
                assert heard["outcome"] != "reject"
            else:
                live.type("+")
                live.until(kind="key_pressed")
            while not _silent_at_last(recording):
                _wait_for_growth(recording, 4_800)
    samples, rate = Voice(VoiceSettings(rate_wpm=100)).synthesise(text)
    out = np.fromfile(recording, np.int16)[begin:]
    # What is asked after "stop" is in it, too. A busy machine lets the device run dry: sound is
    # counted, not the time that it takes.
    assert 0.0 < _voiced_s(out, 48_000) < 0.8 * _voiced_s(samples, rate)


def _voiced_s(sound: Samples, rate: int) -> float:
    """For how long something is to be heard in it, by hundredths of a second."""
    size = rate // 100
    frames = np.abs(sound[: len(sound) // size * size].astype(int)).reshape(-1, size)
    return float(np.count_nonzero(frames.max(axis=1) > 300)) / 100


def _run(pulse: PrivatePulse, record: Path, *flags: str) -> "subprocess.CompletedProcess[str]":
    command = [
        sys.executable,
        "-m",
        "assistant",
        "run",
        "--db",
        str(record),
        "--json",
        "--voice",
        "off",
        *flags,
    ]
    return subprocess.run(
        command, cwd=ROOT, env=pulse.environment, text=True, input="stop\nyes\n",
        capture_output=True, timeout=120, check=False,
    )  # fmt: skip


def test_devices_are_chosen_by_name_and_remembered(pulse: PrivatePulse, tmp_path: Path) -> None:
    settings = Path(pulse.environment["HOME"]) / ".config" / "sweepsay" / "bench.toml"
    wrong = _run(pulse, tmp_path / "jobs.db", "--microphone", "nonsense")
    assert (wrong.returncode, wrong.stdout) == (1, "")
    assert wrong.stderr.count("\n") == 1
    assert "there is no 'nonsense'" in wrong.stderr
    assert "choose one of: " in wrong.stderr
    assert "pulse" in wrong.stderr
    named = _run(pulse, tmp_path / "jobs.db", "--forget", "--microphone", "PULSE", "--headset")
    assert named.returncode == 0, named.stderr
    assert tomllib.loads(settings.read_text(encoding="utf-8")) == {
        "microphone": "pulse", "headset": True,
    }  # fmt: skip
    again = _run(pulse, tmp_path / "jobs.db")
    assert again.returncode == 0
    assert "as in the last job: microphone pulse, headset\n" in again.stderr
    forgotten = _run(pulse, tmp_path / "jobs.db", "--forget")
    assert forgotten.returncode == 0
    assert not settings.exists()
