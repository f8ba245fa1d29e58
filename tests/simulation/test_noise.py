"""Noises and mixing against the definitions of ITU-T P.56 and plain power arithmetic."""

import numpy as np
import numpy.typing as npt
import pytest

from assistant.simulation.noise import (
    NOISES,
    RATE,
    NoiseKind,
    active_level_db,
    from_int16,
    mix,
    noise,
    to_int16,
)

Signal = npt.NDArray[np.float64]


def generator(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def talkers() -> list[Signal]:
    return [generator(seed).standard_normal(RATE) for seed in range(3)]


def bursts(seconds_on: float, seconds_off: float, count: int = 6) -> Signal:
    """Noise at -26 dB that comes and goes."""
    on = generator(3).standard_normal((count, round(seconds_on * RATE))) * 10 ** (-26 / 20)
    return np.concatenate(
        [np.concatenate([row, np.zeros(round(seconds_off * RATE))]) for row in on]
    )


def test_a_steady_sine_has_its_root_mean_square_as_active_level() -> None:
    # A sine of amplitude 0.1 has 0.1 / sqrt 2: -23.01 dB, whatever the method.
    sine = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(5 * RATE) / RATE)
    assert active_level_db(sine) == pytest.approx(-23.01, abs=0.1)


def test_long_pauses_do_not_count_and_short_ones_do() -> None:
    # ITU-T P.56 method B: pauses up to the hangover of 200 ms are bridged, longer ones are
    # left out but for the hangover itself. On for 1 s and off for 3 s: 1 s of energy in
    # 1.2 s of activity, 0.79 dB below the level while on, where the long-term level would
    # be 6.02 dB below it. On for 1 s and off for 0.1 s: all of it counts, -0.41 dB.
    assert active_level_db(bursts(1.0, 3.0)) == pytest.approx(-26 - 0.79, abs=0.3)
    assert active_level_db(bursts(1.0, 0.1)) == pytest.approx(-26 - 0.41, abs=0.2)


def test_level_follows_gain_and_silence_has_none() -> None:
    speech = bursts(0.8, 0.6)
    assert active_level_db(speech * 0.1) == pytest.approx(active_level_db(speech) - 20, abs=0.3)
    assert active_level_db(np.zeros(RATE)) == -np.inf


@pytest.mark.parametrize("kind", NOISES)
def test_each_noise_has_unit_power_and_a_seed_repeats_it(kind: NoiseKind) -> None:
    made = noise(kind, 3 * RATE, generator(), talkers())
    assert len(made) == 3 * RATE
    assert np.sqrt(np.mean(made**2)) == pytest.approx(1.0)
    assert np.array_equal(made, noise(kind, 3 * RATE, generator(), talkers()))
    assert not np.array_equal(made, noise(kind, 3 * RATE, generator(2), talkers()))


@pytest.mark.parametrize("kind", NOISES)
@pytest.mark.parametrize("snr_db", [20.0, 5.0, -3.0])
def test_the_mixture_has_the_stated_ratio(kind: NoiseKind, snr_db: float) -> None:
    speech = 0.2 * bursts(0.7, 0.5)
    added = noise(kind, len(speech), generator(), talkers())
    rest = mix(speech, added, snr_db) - speech
    level = 10 * np.log10(np.mean(rest**2))
    assert active_level_db(speech) - level == pytest.approx(snr_db, abs=0.01)


def test_what_would_clip_is_turned_down_as_a_whole() -> None:
    speech = 3.0 * bursts(0.7, 0.5)
    added = noise("taps", len(speech), generator())
    loud = mix(speech, added, 0.0)
    assert np.max(np.abs(loud)) == pytest.approx(0.99)
    gain = np.dot(loud, speech) / np.dot(speech, speech)
    rest = loud / gain - speech
    assert np.corrcoef(rest, added)[0, 1] > 0.99


def test_hammer_blows_leave_gaps_and_a_motor_has_lines() -> None:
    taps = np.abs(noise("taps", 4 * RATE, generator()))
    assert np.median(taps) < 0.2  # of steady noise it would be 0.67
    spectrum = np.abs(np.fft.rfft(noise("motor", 4 * RATE, generator()) * np.hanning(4 * RATE)))
    assert np.max(spectrum) > 50 * np.median(spectrum)


# Room noise spectrum density in dB by octave from 250 Hz to 4 kHz (Hoth), as ITU-T P.800
# gives it for listening tests; from memory, so only its slope is compared, and roughly.
HOTH_DB = {250: 26.0, 500: 21.1, 1000: 16.2, 2000: 11.3, 4000: 5.4}


def slope_db(kind: NoiseKind, seed: int) -> float:
    """The mean fall of the power density per octave between 250 Hz and 4 kHz."""
    made = noise(kind, 8 * RATE, generator(seed))
    power = np.abs(np.fft.rfft(made)) ** 2
    hertz = np.fft.rfftfreq(len(made), 1 / RATE)
    levels = [
        10 * np.log10(np.median(power[(hertz > f / 1.2) & (hertz < f * 1.2)])) for f in HOTH_DB
    ]
    return float((levels[0] - levels[-1]) / (len(levels) - 1))


def test_a_fan_falls_like_room_noise_and_an_air_line_much_less() -> None:
    wanted = (HOTH_DB[250] - HOTH_DB[4000]) / 4
    fans = [slope_db("fan", seed) for seed in range(8)]
    assert np.mean(fans) == pytest.approx(wanted, abs=0.7)
    assert min(fans) > max(slope_db("air", seed) for seed in range(8))


def test_what_cannot_be_mixed_is_refused() -> None:
    speech = bursts(0.5, 0.2)
    with pytest.raises(ValueError, match="shorter than the speech"):
        mix(speech, speech[:-1], 10)
    with pytest.raises(ValueError, match="silent"):
        mix(np.zeros(RATE), np.ones(RATE), 10)
    with pytest.raises(ValueError, match="talkers"):
        noise("babble", RATE, generator())
    with pytest.raises(ValueError, match="at least one"):
        noise("fan", 0, generator())


def test_sixteen_bits_and_back() -> None:
    signal = np.array([-1.5, -1.0, -0.25, 0.0, 0.5, 1.0])
    assert to_int16(signal).tolist() == [-32767, -32767, -8192, 0, 16384, 32767]
    assert np.allclose(from_int16(to_int16(signal)), np.clip(signal, -1, 1), atol=1 / 32767)
