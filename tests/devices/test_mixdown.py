"""One recording out of timed pieces, read back by the standard library."""

import os
import wave
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from assistant.devices.sound.mixdown import PlacedSound, mix, room_noise, wav_of
from assistant.records.whole_files import replace_file


def _sine(frequency: float, rate: int, seconds: float = 1.0) -> npt.NDArray[np.int16]:
    time = np.arange(round(seconds * rate)) / rate
    wave = 8_000 * np.sin(2 * np.pi * frequency * time)
    return np.asarray(np.rint(wave), np.int16)


@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100, 48_000])
def test_pieces_of_any_rate_keep_their_time_and_pitch(rate: int) -> None:
    sound = mix([PlacedSound(1.0, _sine(1_000, rate), rate)], rate=22_050)[:, 0]
    assert np.abs(sound[: 22_050 - 400]).max() < 1e-3
    middle = sound[22_050 + 2_000 : 22_050 * 2 - 2_000]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle))))
    found = np.argmax(spectrum) * 22_050 / len(middle)
    assert found == pytest.approx(1_000, abs=2)
    assert np.abs(middle).max() == pytest.approx(8_000 / 32768, rel=0.02)


def test_pieces_add_up_and_are_turned_down_together() -> None:
    loud = np.full(1_000, 20_000, np.int16)
    sound = mix([PlacedSound(0.0, loud, 22_050), PlacedSound(0.0, loud, 22_050)])
    assert np.abs(sound).max() == pytest.approx(0.98, abs=1e-6)
    one = mix([PlacedSound(0.0, loud, 22_050)])
    assert one[10, 0] == pytest.approx(20_000 / 32768)


def test_sides_have_the_same_power() -> None:
    tone = _sine(500, 22_050)
    for side in (-1.0, -0.3, 0.0, 1.0):
        sound = mix(
            [
                PlacedSound(0.0, tone, 22_050, side=side),
                PlacedSound(0.0, tone[:0], 22_050, side=1.0),
            ]
        )
        assert sound.shape[1] == 2
        power = float((sound.astype(float) ** 2).sum())
        assert power == pytest.approx(float((tone / 32768.0) ** 2 @ np.ones(len(tone))), rel=1e-3)
        assert (sound[:, 0].std() > sound[:, 1].std()) == (side < 0)


def test_room_noise_has_its_level() -> None:
    noise = room_noise(2.0, -40.0, np.random.default_rng(1))
    rms = np.sqrt(np.mean((noise / 32768.0) ** 2))
    assert 20 * np.log10(rms) == pytest.approx(-40.0, abs=0.2)
    assert len(room_noise(0.0, -40.0, np.random.default_rng(1))) == 0


def test_the_file_is_what_was_mixed(tmp_path: Path) -> None:
    path = tmp_path / "conversation.wav"
    sound = mix([PlacedSound(0.2, _sine(440, 16_000), 16_000, side=-0.5)])
    replace_file(path, wav_of(sound))
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, 22_050)
        raw = np.frombuffer(file.readframes(file.getnframes()), np.int16).reshape(-1, 2)
    assert np.abs(raw / 32768.0 - sound).max() < 1.0 / 32768
    assert os.listdir(tmp_path) == ["conversation.wav"]


@pytest.mark.parametrize(
    "piece",
    [
        {"start_s": -1.0},
        {"start_s": 1e9},
        {"start_s": float("nan")},
        {"rate": 0},
        {"side": 2.0},
        {"samples": np.zeros((4, 2), np.int16)},
    ],
)
def test_pieces_out_of_range(piece: dict[str, object]) -> None:
    usual: dict[str, object] = {"start_s": 0.0, "samples": np.zeros(4, np.int16), "rate": 16_000}
    with pytest.raises(ValueError, match=r"range|channel"):
        PlacedSound(**(usual | piece))  # type: ignore[arg-type]
