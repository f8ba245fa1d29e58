"""Short sounds for the tests of hearing, cut from the recordings of the repository."""

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

Samples = npt.NDArray[np.int16]

FOLDER = Path(__file__).parents[2] / "audio_fixtures"
RATE = 16_000
TESTDATA = Path("/usr/share/pocketsphinx/test/data")
"""Debian's pocketsphinx-testdata: human recordings under a BSD licence."""


@cache
def utterances() -> tuple[dict[str, Any], ...]:
    """What is said where in the recordings."""
    manifest = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
    return tuple(manifest["utterances"])


@cache
def _recording(file: str) -> Samples:
    samples, rate = soundfile.read(FOLDER / file, dtype="int16")
    assert rate == RATE
    return np.asarray(samples, np.int16)


def clip(said: str, voice: str = "rms", around_s: float = 0.4) -> Samples:
    """The first recording of these words by this voice, with quiet around it."""
    for row in utterances():
        if row["said"] == said and row["voice"] == voice:
            return clip_of(row, around_s)
    raise LookupError(f"{voice} does not say {said!r}")


def clip_of(row: dict[str, Any], around_s: float = 0.4) -> Samples:
    """The recording of one row of the manifest."""
    sound = _recording(row["file"])
    start = max(0, round((row["start_s"] - around_s) * RATE))
    return sound[start : round((row["end_s"] + around_s) * RATE)]


def noisy(samples: Samples, snr_db: float, seed: int = 1) -> Samples:
    """White noise at this mean power below that of the loud half of the sound."""
    sound = samples.astype(np.float64)
    power = np.mean(np.sort(sound**2)[len(sound) // 2 :])
    chance = np.random.default_rng(seed)
    added = chance.standard_normal(len(sound)) * np.sqrt(power / 10 ** (snr_db / 10))
    mixed: Samples = np.clip(sound + added, -32768, 32767).astype(np.int16)
    return mixed


def quiet(seconds: float) -> Samples:
    """Digital silence."""
    return np.zeros(round(seconds * RATE), np.int16)
