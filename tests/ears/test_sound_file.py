"""Sound files of every kind become 16 kHz mono, or are refused with a reason."""

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.devices.sound.files import RATE, SoundFileError, read_blocks
from tests.recordings import read_all

TONE_HZ = 440.0


def tone(rate: int, seconds: float = 1.5) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * TONE_HZ * np.arange(round(seconds * rate)) / rate)


def pitch(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * RATE / len(samples)


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("suffix", [".wav", ".flac"])
def test_any_rate_keeps_length_pitch_and_level(tmp_path: Path, rate: int, suffix: str) -> None:
    path = tmp_path / f"tone{suffix}"
    soundfile.write(path, tone(rate), rate)
    samples = read_all(path)
    assert samples.dtype == np.int16
    assert len(samples) == pytest.approx(1.5 * RATE, abs=2)
    assert pitch(samples[1000:-1000]) == pytest.approx(TONE_HZ, abs=1.0)
    # The root mean square of a sine is its amplitude over the square root of two.
    level = np.sqrt(np.mean(samples[1000:-1000].astype(float) ** 2)) / 32768
    assert level == pytest.approx(0.5 / np.sqrt(2), rel=0.01)


@pytest.mark.parametrize("channels", [2, 6])
def test_channels_are_averaged(tmp_path: Path, channels: int) -> None:
    path = tmp_path / "many.wav"
    one = tone(RATE)
    soundfile.write(path, np.stack([one] + [0 * one] * (channels - 1), axis=1), RATE)
    expected = np.rint(one / channels * 32768)
    assert np.abs(read_all(path) - expected).max() <= 1


@pytest.mark.parametrize("subtype", ["PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE"])
def test_sample_formats(tmp_path: Path, subtype: str) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(RATE), RATE, subtype=subtype)
    assert np.abs(read_all(path) - np.rint(tone(RATE) * 32768)).max() <= 256


def test_blocks_join_to_the_whole(tmp_path: Path) -> None:
    path = tmp_path / "tone.flac"
    soundfile.write(path, tone(44_100, 3.3), 44_100)
    blocks = list(read_blocks(path))
    assert len(blocks) > 2
    assert np.array_equal(np.concatenate(blocks), read_all(path))


def refused(path: Path) -> str:
    with pytest.raises(SoundFileError) as caught:
        read_all(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert "\n" not in message
    return message


def test_what_cannot_be_used_is_refused_with_advice(tmp_path: Path) -> None:
    assert "no such file" in refused(tmp_path / "missing.wav")
    assert "folder" in refused(tmp_path)
    empty = tmp_path / "empty.wav"
    empty.write_bytes(b"")
    assert "empty" in refused(empty)
    text = tmp_path / "text.wav"
    text.write_text("front plus six\n" * 50, encoding="utf-8")
    assert "not a sound file" in refused(text)
    nothing = tmp_path / "nothing.wav"
    soundfile.write(nothing, np.zeros(0), RATE)
    assert "no samples" in refused(nothing)
    strange = tmp_path / "strange.wav"
    soundfile.write(strange, np.array([0.1, np.nan] * 500), RATE, subtype="FLOAT")
    assert "not numbers" in refused(strange)
    slow = tmp_path / "slow.wav"
    soundfile.write(slow, tone(4000), 4000)
    assert "4000 samples per second" in refused(slow)


@pytest.mark.parametrize("suffix", [".wav", ".flac"])
@pytest.mark.parametrize("part", [0.002, 0.3, 0.95])
def test_a_cut_off_file_is_refused(tmp_path: Path, suffix: str, part: float) -> None:
    whole, cut = tmp_path / f"whole{suffix}", tmp_path / f"cut{suffix}"
    chance = np.random.default_rng(3)
    soundfile.write(whole, 0.3 * chance.standard_normal(RATE * 2).clip(-3, 3), RATE)
    data = whole.read_bytes()
    cut.write_bytes(data[: max(16, int(part * len(data)))])
    refused(cut)


def test_a_wav_of_unknown_length_is_read(tmp_path: Path) -> None:
    """Programs that write to a pipe cannot know the length and put the largest there is."""
    path = tmp_path / "piped.wav"
    soundfile.write(path, tone(RATE), RATE)
    data = bytearray(path.read_bytes())
    at = data.index(b"data") + 4
    data[at : at + 4] = b"\xff\xff\xff\xff"
    path.write_bytes(bytes(data))
    assert len(read_all(path)) == pytest.approx(1.5 * RATE, abs=2)


@pytest.mark.parametrize("peak", [17.0, 32_000.0, 1e38])
def test_floats_that_are_not_scaled_are_refused(tmp_path: Path, peak: float) -> None:
    path = tmp_path / "floats.wav"
    soundfile.write(path, 2 * peak * tone(RATE), RATE, subtype="FLOAT")
    with pytest.raises(SoundFileError, match=r"times full scale; save it again"):
        read_all(path)


def test_floats_a_little_too_loud_are_clipped(tmp_path: Path) -> None:
    path = tmp_path / "floats.wav"
    soundfile.write(path, 4 * tone(RATE), RATE, subtype="FLOAT")
    assert read_all(path).max() == 32_767


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_one_channel_of_no_numbers_is_enough(tmp_path: Path, value: float) -> None:
    path = tmp_path / "floats.wav"
    sound = np.stack([tone(RATE), tone(RATE)], axis=1)
    sound[100, 1] = value
    soundfile.write(path, sound, RATE, subtype="DOUBLE")
    with pytest.raises(SoundFileError, match="not numbers"):
        read_all(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "pipe.wav"
    os.mkfifo(path)
    with pytest.raises(SoundFileError, match="pipe or a device"):
        read_all(path)
    with pytest.raises(SoundFileError, match="pipe or a device"):
        read_all(os.devnull)


def test_a_recording_of_many_hours_is_refused_without_reading_it(tmp_path: Path) -> None:
    path = tmp_path / "hours.wav"
    soundfile.write(path, np.zeros(0), RATE)
    data = 2**31 - 100
    with path.open("r+b") as file:
        file.seek(40)
        file.write(data.to_bytes(4, "little"))
        file.truncate(44 + data)  # full of holes: it takes no room on the disk
    with pytest.raises(SoundFileError, match=r"18\.6 hours long; cut it"):
        read_all(path)


@pytest.mark.parametrize("kept", [20, 100, 5_000])
def test_a_flac_that_was_cut_off_is_refused(tmp_path: Path, kept: int) -> None:
    whole, cut = tmp_path / "whole.flac", tmp_path / "cut.flac"
    chance = np.random.default_rng(1)
    soundfile.write(whole, 0.1 * chance.standard_normal(RATE), RATE)
    cut.write_bytes(whole.read_bytes()[:kept])
    with pytest.raises(SoundFileError) as raised:
        read_all(cut)
    assert "\n" not in str(raised.value)
