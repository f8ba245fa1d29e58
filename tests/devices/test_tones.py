"""The answer tones: told apart by rhythm, without clicks, in every set."""

import itertools

import numpy as np
import pytest

from assistant.devices.voice.tones import (
    COLOURS,
    RHYTHMS,
    TONE_SETS,
    ToneName,
    ToneSet,
    duration_s,
    tone,
)

AUDIBLE: tuple[ToneSet, ...] = tuple(each for each in TONE_SETS if each != "off")


def _beats(name: ToneName, chosen: ToneSet) -> list[float]:
    """Lengths in seconds of what sounds, measured on the samples alone."""
    rate = 16_000
    sound = np.abs(tone(name, rate, chosen).astype(float)) / 32768
    window = round(0.006 * rate)
    smooth = np.convolve(sound, np.ones(window) / window)
    on = np.concatenate([[0], (smooth > 0.01).astype(int), [0]])
    edges = np.flatnonzero(np.diff(on))
    return [float(stop - start) / rate for start, stop in edges.reshape(-1, 2)]


@pytest.mark.parametrize("chosen", AUDIBLE)
def test_answers_differ_without_pitch(chosen: ToneSet) -> None:
    beats = {name: _beats(name, chosen) for name in RHYTHMS}
    for one, other in itertools.combinations(RHYTHMS, 2):
        a, b = beats[one], beats[other]
        longer = max(sum(a), sum(b)) / min(sum(a), sum(b))
        assert len(a) != len(b) or longer > 1.8, f"{one} and {other} sound alike"
    assert len(beats["asked"]) == 2


@pytest.mark.parametrize("rate", [8_000, 16_000, 22_050, 44_100, 48_000])
@pytest.mark.parametrize("name", RHYTHMS)
def test_no_clicks(name: ToneName, rate: int) -> None:
    sound = tone(name, rate).astype(float) / 32768
    assert abs(sound[0]) < 0.002
    assert abs(sound[-1]) < 0.002
    # The first and last millisecond swell: no jump that a loudspeaker would crack at.
    edge = round(0.001 * rate)
    assert np.abs(sound[:edge]).max() < 0.1 * np.abs(sound).max()
    assert np.abs(sound[-edge:]).max() < 0.1 * np.abs(sound).max()


@pytest.mark.parametrize("chosen", AUDIBLE)
@pytest.mark.parametrize("name", RHYTHMS)
def test_nothing_above_what_worn_ears_hear(name: ToneName, chosen: ToneSet) -> None:
    sound = tone(name, 48_000, chosen).astype(float)
    power = np.abs(np.fft.rfft(sound)) ** 2
    frequency = np.fft.rfftfreq(len(sound), 1 / 48_000)
    assert power[frequency > 3_000].sum() < 0.01 * power.sum()


def test_pitch_is_that_of_the_set() -> None:
    sound = tone("missed", 16_000, "soft").astype(float)
    peak = np.argmax(np.abs(np.fft.rfft(sound, 160_000))) / 10
    assert peak == pytest.approx(COLOURS["soft"].pitch_hz * RHYTHMS["missed"][0].pitch, abs=2)


def test_length_volume_and_off() -> None:
    for name in RHYTHMS:
        assert len(tone(name, 16_000)) == pytest.approx(duration_s(name) * 16_000, abs=2)
        loud, quiet = tone(name, volume=1.0), tone(name, volume=0.5)
        assert np.abs(quiet).max() == pytest.approx(np.abs(loud).max() / 2, abs=2)
        assert len(tone(name, chosen="off")) == 0
    assert duration_s("key") <= 0.03, "keys come fast"


def test_out_of_range() -> None:
    with pytest.raises(ValueError, match="use 0 to 1"):
        tone("key", volume=2.0)
    with pytest.raises(ValueError, match="use 8000"):
        tone("key", rate=100)
