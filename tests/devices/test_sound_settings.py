"""What the bench remembers of its sound: read, checked, kept, forgotten."""

import io
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.__main__ import main
from assistant.bench import remembered
from assistant.bench.remembered import full_names, load_settings, settings_for_run
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.library import SoundDevice
from assistant.devices.sound.settings import (
    SettingsError,
    SoundSettings,
    read_settings,
    write_settings,
)
from assistant.devices.voice.tones import TONE_SETS
from assistant.records.faults import RecordError
from tests.devices.sound_stand_in import MIC, OUT

NAMES = st.none() | st.text(min_size=1, max_size=20).filter(
    lambda text: bool(text.strip()) and text.isprintable()
)
SETTINGS = st.builds(
    SoundSettings,
    microphone=NAMES,
    speaker=NAMES,
    headset=st.booleans(),
    rate=st.integers(80, 200),
    volume=st.integers(1, 100),
    tones=st.sampled_from(TONE_SETS),
)
SECOND = SoundDevice(2, "USB Headset: Audio (hw:2,0)", 1, 2, 48_000)


class _Library:
    def devices(self) -> tuple[SoundDevice, ...]:
        return (MIC, OUT, SECOND)


@pytest.fixture
def sound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remembered, "PortAudio", _Library)


@given(SETTINGS)
def test_what_is_written_is_read(settings: SoundSettings) -> None:
    text = write_settings(settings)
    assert read_settings(text) == settings
    # A standard reader agrees on what the file says.
    assert tomllib.loads(text) == settings.chosen()


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("rate = 201", "80 to 200"),
        ("rate = true", "whole number"),
        ("volume = 0", "1 to 100"),
        ("volume = 50.0", "whole number"),
        ('tones = "loud"', "soft, low, knock, off"),
        ("headset = 1", "true or false"),
        ('microphone = ""', "its name"),
        ("speaker = 3", "its name"),
        ('loudness = "much"', "there are microphone, speaker"),
        ("rate = ", "not TOML"),
        ("# " + "x" * 30_000, "too long"),
    ],
)
def test_what_cannot_be_used_says_what_to_write(text: str, hint: str, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=hint):
        read_settings(text)
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RecordError, match="--forget") as raised:
        load_settings(path)
    assert "\n" not in str(raised.value)
    assert str(path) in str(raised.value)


def test_a_file_that_is_no_text_says_so(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(RecordError, match="UTF-8"):
        load_settings(path)


def test_devices_are_remembered_by_their_whole_name_without_the_card() -> None:
    found = full_names(SoundSettings("headset", "shop"), _Library().devices())
    assert (found.microphone, found.speaker) == ("USB Headset: Audio", "Shop Speaker: Analog")


@pytest.mark.parametrize(("name", "said"), [("usb", "fits several"), ("tape", "there is no")])
def test_a_name_that_fits_none_or_several_lists_the_names(name: str, said: str) -> None:
    with pytest.raises(DeviceFault, match=said) as raised:
        full_names(SoundSettings(microphone=name), _Library().devices())
    for device in (MIC, SECOND):
        assert device.name in str(raised.value)


@pytest.mark.usefixtures("sound")
def test_what_was_given_holds_for_the_next_job(tmp_path: Path) -> None:
    path, err = tmp_path / "config" / "bench.toml", io.StringIO()
    first = settings_for_run(path, {"microphone": "headset", "rate": 150}, forget=False, err=err)
    assert "remembered for the next job: microphone USB Headset: Audio, rate 150" in err.getvalue()
    again = settings_for_run(path, {"microphone": None, "tones": "low"}, forget=False, err=err)
    assert first.microphone == again.microphone == "USB Headset: Audio"
    assert (again.rate, again.tones) == (150, "low")
    assert load_settings(path) == again
    err.truncate(0)
    assert settings_for_run(path, {}, forget=False, err=err) == again
    assert err.getvalue().strip("\0").startswith("sweepsay: as in the last job: microphone USB")
    # The default can be asked for, too.
    assert settings_for_run(path, {"rate": 165}, forget=False, err=err).rate == 165
    assert settings_for_run(path, {}, forget=True, err=err) == SoundSettings()
    assert not path.exists()


@pytest.mark.usefixtures("sound")
def test_a_slip_of_the_pen_is_not_remembered(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    with pytest.raises(DeviceFault, match="there is no 'hedset'"):
        settings_for_run(path, {"microphone": "hedset"}, forget=False, err=io.StringIO())
    assert not path.exists()


@pytest.mark.usefixtures("sound")
def test_forgetting_helps_when_the_file_is_damaged(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_text("rate = fast", encoding="utf-8")
    given = {"volume": 50}
    with pytest.raises(RecordError):
        settings_for_run(path, given, forget=False, err=io.StringIO())
    assert settings_for_run(path, given, forget=True, err=io.StringIO()).volume == 50
    assert load_settings(path) == SoundSettings(volume=50)


@pytest.mark.usefixtures("sound")
def test_what_cannot_be_kept_holds_for_this_job(tmp_path: Path) -> None:
    (tmp_path / "config").write_text("a file in the folder's place")
    err = io.StringIO()
    found = settings_for_run(
        tmp_path / "config" / "bench.toml", {"volume": 40}, forget=False, err=err
    )
    assert found.volume == 40
    assert err.getvalue().startswith("sweepsay: not remembered: ")
    assert err.getvalue().count("\n") == 1


@pytest.mark.parametrize(
    ("option", "value", "hint"),
    [("--rate", "201", "80 to 200"), ("--volume", "0", "1 to 100"), ("--tones", "x", "knock")],
)
def test_the_command_line_refuses_what_cannot_be(
    option: str, value: str, hint: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["run", option, value])
    assert stopped.value.code == 2
    assert hint in capsys.readouterr().err


def test_the_help_says_why_the_voice_is_no_faster(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["run", "--help"])
    text = " ".join(capsys.readouterr().out.split())
    assert "80 to 200 (default 165): faster, numbers were no longer understood" in text
