"""What silence, a voice and an echo tell of microphone and room."""

import numpy as np
import numpy.typing as npt
import pytest

from assistant.devices.ears.room import (
    FAINT_DB,
    STEP_DB,
    Room,
    clipped,
    describe_echo,
    describe_levels,
    describe_voice,
    measure,
    voice_band_step,
)
from assistant.devices.sound.delay import Arrival
from assistant.simulation.noise import NOISES, NoiseKind, from_int16, noise, to_int16
from assistant.simulation.speech import SpeechBank, voices
from tests.benchmarks.hearing_conditions import telephone_band

RATE = 16_000
TALK = [from_int16(SpeechBank(voices()[0]).say("front plus six"))]


def _noise(kind: NoiseKind, seed: int, level_db: float = -50.0) -> npt.NDArray[np.float64]:
    made = noise(kind, 3 * RATE, np.random.default_rng(seed), TALK)
    return made * 10 ** (level_db / 20)


@pytest.mark.parametrize("kind", NOISES)
@pytest.mark.parametrize("level_db", [-70.0, -40.0])
def test_a_headset_in_telephone_mode_is_known_by_what_it_lacks(
    kind: NoiseKind, level_db: float
) -> None:
    for seed in range(3):
        wide = _noise(kind, seed, level_db)
        assert measure(to_int16(wide)).step_db < STEP_DB
        if kind not in ("babble", "motor"):
            # Those have nothing at 4 kHz to begin with, so that nothing is missed.
            narrow = telephone_band(wide)
            floor = np.random.default_rng(9).normal(0, 0.3 / 32768, len(narrow))
            if level_db > -60:
                assert measure(to_int16(narrow + floor)).step_db > STEP_DB


def test_telephone_mode_in_words() -> None:
    status, found, remedy = describe_levels(measure(to_int16(telephone_band(_noise("air", 1)))))
    assert status == "note"
    assert "nothing above 4 kHz" in found
    assert "headset" in remedy


@pytest.mark.parametrize("name", voices())
def test_a_voice_tells_it_too(name: str) -> None:
    said = np.concatenate([SpeechBank(name).say(w) for w in ("front plus six", "right minus two")])
    assert voice_band_step(said) < STEP_DB
    narrow = to_int16(telephone_band(from_int16(said)))
    assert voice_band_step(narrow) > STEP_DB
    assert describe_voice(said, -26.0)[0] == "ok"
    assert "nothing above 4 kHz" in describe_voice(narrow, -26.0)[1]
    assert "faint" in describe_voice(said, FAINT_DB - 1)[1]
    assert "overloaded" in describe_voice(to_int16(6 * from_int16(said)), -10.0)[1]


@pytest.mark.parametrize("mains", [50, 60])
def test_hum_is_told_from_other_noise(mains: int) -> None:
    times = np.arange(3 * RATE) / RATE
    hum = sum(np.sin(2 * np.pi * n * (mains + 0.05) * times + n) / n for n in range(1, 7))
    room = measure(to_int16(0.01 * np.asarray(hum) + _noise("fan", 1, -60.0)))
    assert room.hum_hz == mains
    assert room.hum_share > 0.9
    status, found, _ = describe_levels(room)
    assert status == "note"
    assert f"({mains} Hz)" in found
    # A motor has harmonics of its own, and a fan blades: neither is the mains'.
    for seed in range(4):
        assert measure(to_int16(_noise("fan", seed))).hum_share < 0.3


def test_clipping_is_seen_below_full_scale_too() -> None:
    sine = 20_000 * np.sin(np.arange(RATE) / 15)
    assert clipped(np.asarray(sine, np.int16)) == 0.0
    assert clipped(np.asarray(np.clip(sine, -12_000, 12_000), np.int16)) > 0.3
    assert clipped(np.asarray(np.clip(2 * sine, -32_768, 32_767), np.int16)) > 0.3
    assert clipped(np.asarray(np.clip(sine, -500, 500) / 10, np.int16)) == 0.0
    assert clipped(SpeechBank(voices()[0]).say("front plus six")) == 0.0
    assert clipped(np.zeros(0, np.int16)) == 0.0


def test_a_short_or_empty_stretch_is_no_trouble() -> None:
    for count in (0, 1, 100, 600):
        room = measure(np.ones(count, np.int16))
        assert room.hum_share == 0.0
    assert describe_levels(Room(-60, -60, -40, 0, 0.0, 50, 0.9))[0] == "ok"


@pytest.mark.parametrize(
    ("found", "headset", "status", "said"),
    [
        (None, True, "ok", "does not hear the speaker"),
        (None, False, "note", "does not hear the speaker"),
        (Arrival(0.08, 50, 0.3), False, "ok", "after 0.08 s; sound dies away in 0.3 s"),
        (Arrival(0.08, 50, None), False, "ok", "after 0.08 s"),
        (Arrival(-0.01, 50, None), False, "ok", "after 0.00 s"),
        (Arrival(0.08, 50, 0.9), False, "note", "a lively room"),
        (Arrival(0.7, 50, 0.9), False, "note", "it listens that much later"),
        (Arrival(0.08, 50, 0.3), True, "note", "after 0.08 s"),
    ],
)
def test_an_echo_in_words(found: Arrival | None, headset: bool, status: str, said: str) -> None:
    told, text, remedy = describe_echo(found, headset=headset)
    assert told == status
    assert said in text
    assert bool(remedy) == (status == "note")
