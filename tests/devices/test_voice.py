"""The voice: real speech out of the bundled library, and what happens when it fails."""

import subprocess
import sys
import threading
from pathlib import Path

import espeakng_loader
import numpy as np
import pytest

from assistant.devices.faults import DeviceFault
from assistant.devices.voice import synthesis as voice_module
from assistant.devices.voice.espeak import LONGEST_DATA_PATH, Espeak, short_path
from assistant.devices.voice.speech_engine import Speech, VoiceSettings, trimmed
from assistant.devices.voice.synthesis import Voice, clean, sentences

TEXTS = ("Front, plus six.", "Back?", "Shim three thou, above the tilt bolt.")


@pytest.fixture(scope="module")
def speaker() -> Voice:
    return Voice()


def test_a_text_becomes_speech_of_about_its_length(speaker: Voice) -> None:
    for text in TEXTS:
        samples, rate = speaker.synthesise(text)
        assert samples.dtype == np.int16
        assert samples.ndim == 1
        # 165 words a minute is 2.75 a second; short phrases are spoken slower than prose.
        words = len(text.split())
        assert words / 4.5 < len(samples) / rate < words / 1.5
        assert np.abs(samples.astype(int)).max() > 8_000


def test_silence_around_speech_is_cut_short(speaker: Voice) -> None:
    samples, rate = speaker.synthesise("Right?")
    loud = np.flatnonzero(np.abs(samples.astype(int)) > 200)
    assert loud[0] / rate <= 0.011
    assert (len(samples) - loud[-1]) / rate <= 0.082


def test_speed_and_volume_do_what_they_say(speaker: Voice) -> None:
    usual, _ = speaker.synthesise(TEXTS[0])
    slow, _ = Voice(VoiceSettings(rate_wpm=120)).synthesise(TEXTS[0])
    quiet, _ = Voice(VoiceSettings(volume=0.3)).synthesise(TEXTS[0])
    assert 1.2 < len(slow) / len(usual) < 1.6  # 165 / 120 = 1.375
    assert np.abs(quiet.astype(int)).max() < 0.6 * np.abs(usual.astype(int)).max()


def test_voices_with_other_settings_do_not_mix(speaker: Voice) -> None:
    slow = Voice(VoiceSettings(rate_wpm=100))
    lengths: dict[int, set[int]] = {165: set(), 100: set()}
    for number in range(4):
        for each in (speaker, slow):
            samples, _ = each.synthesise("Front, plus six." + " " * (number % 2) + "." * number)
            lengths[each.settings.rate_wpm].add(len(samples) // 500)
    assert max(lengths[165]) < min(lengths[100])


@pytest.mark.parametrize("text", ["", "   ", "\n", "\0"])
def test_nothing_to_say_gives_nothing(speaker: Voice, text: str) -> None:
    speaker.synthesise("Front, plus six.")
    samples, _ = speaker.synthesise(text)
    assert len(samples) == 0


def test_a_text_is_spoken_whole_across_control_characters(speaker: Voice) -> None:
    whole, _ = speaker.synthesise("front plus six, right minus two")
    cut, _ = speaker.synthesise("front plus six,\0right minus\ntwo")
    assert clean("front plus six,\0right minus\ntwo") == "front plus six, right minus two"
    assert len(cut) == len(whole)


def test_what_is_handed_out_cannot_be_spoilt(speaker: Voice) -> None:
    samples, _ = speaker.synthesise(TEXTS[0])
    with pytest.raises(ValueError, match="read-only"):
        samples[0] = 1


@pytest.mark.parametrize("name", ["nonsense", "en-us+nonsense"])
def test_an_unknown_voice_is_refused_and_the_next_one_works(name: str) -> None:
    with pytest.raises(DeviceFault, match=r"voice: there is no voice .*; choose another") as told:
        Voice(VoiceSettings(name))
    assert told.value.device == "voice"
    assert "\n" not in str(told.value)
    assert len(Voice(VoiceSettings("en-us+f3")).synthesise(TEXTS[0])[0]) > 10_000


@pytest.mark.parametrize(
    ("settings", "said"),
    [({"rate_wpm": 20}, "use 80 to 200"), ({"volume": 1.5}, "use 0 to 1")],
)
def test_settings_out_of_range(settings: dict[str, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        VoiceSettings(**settings)  # type: ignore[arg-type]


class _Counting:
    """A stand-in engine that counts, and waits when told to."""

    def __init__(self) -> None:
        self.spoken: list[str] = []
        self.go_on = threading.Event()
        self.go_on.set()

    def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
        self.spoken.append(text)
        assert self.go_on.wait(30)
        return trimmed(np.full(2_205, 1_000, np.int16), 22_050)


def test_a_text_is_spoken_once_and_kept() -> None:
    engine = _Counting()
    voice = Voice(engine=engine)
    for _ in range(3):
        voice.synthesise("Back?")
    assert engine.spoken.count("Back?") == 1


def test_sentences_that_were_spoken_before_are_not_spoken_again() -> None:
    engine = _Counting()
    voice = Voice(engine=engine)
    voice.prepare(["Front?", "Right plus two. Front?"])
    both, rate = voice.synthesise("Left plus two. Front?")
    while not voice.is_prepared("Right plus two."):
        pass
    assert sorted(engine.spoken) == ["Front?", "Left plus two.", "Right plus two.", "zero"]
    one, _ = voice.synthesise("Front?")
    assert len(both) == 2 * len(one) + round(0.2 * rate)
    assert voice.is_prepared("Right plus two. Left plus two. Front?")


def test_prepared_texts_wait_behind_an_urgent_one() -> None:
    engine = _Counting()
    voice = Voice(engine=engine)
    engine.go_on.clear()
    voice.prepare(["one", "two", "three"])
    asked = threading.Thread(target=voice.synthesise, args=("now",))
    asked.start()
    while voice._worker._orders.qsize() < 3:
        pass
    engine.go_on.set()
    asked.join(30)
    voice.synthesise("last")
    assert engine.spoken.index("now") <= 2
    assert voice.is_prepared("one")


def test_what_is_kept_is_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voice_module, "CACHE_S", 0.35)  # three texts of 0.1 s
    voice = Voice(engine=_Counting())
    for text in ("one", "two", "three", "four"):
        voice.synthesise(text)
    assert not voice.is_prepared("one")
    assert voice.is_prepared("four")


def test_a_library_that_hangs_is_given_up_and_used_again() -> None:
    engine = _Counting()
    voice = Voice(engine=engine, limit_s=0.05)
    engine.go_on.clear()
    with pytest.raises(DeviceFault, match=r"gave nothing for 0\.05 s"):
        voice.synthesise("Back?")
    voice._limit_s = 30
    with pytest.raises(DeviceFault, match="gave nothing"):
        # It would wait for half a minute if it waited at all.
        voice.synthesise("Front?")
    assert engine.spoken == ["zero", "Back?"]
    engine.go_on.set()
    while not voice.is_prepared("Back?"):
        pass  # what came too late is kept
    samples, _ = voice.synthesise("Front?")
    assert len(samples) > 0


def test_a_library_error_reaches_whoever_asked() -> None:
    class Broken:
        def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
            if text == "zero":
                return trimmed(np.zeros(0, np.int16), 22_050)
            raise DeviceFault("voice", "broken", "mend it")

    voice = Voice(engine=Broken())
    for _ in range(2):
        with pytest.raises(DeviceFault, match="voice: broken; mend it"):
            voice.synthesise("Back?")


@pytest.mark.skipif(sys.platform != "linux", reason="espeak-ng is used on Linux only")
@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ("empty data", "holds no espeak-ng data"),
        ("damaged data", "does not start with its data"),
        ("no library", "cannot be loaded"),
    ],
)
def test_a_damaged_installation_is_a_named_error(tmp_path: Path, broken: str, said: str) -> None:
    """In a process of its own: espeak-ng ends the whole process unless it is told not to."""
    installed = Path(espeakng_loader.get_library_path())
    if broken != "no library":
        (tmp_path / "libespeak-ng.so").symlink_to(installed)
    data = tmp_path / "espeak-ng-data"
    if broken == "no library":
        data.symlink_to(installed.parent / "espeak-ng-data")
    else:
        data.mkdir()
    if broken == "damaged data":
        (data / "phontab").write_text("?")
    program = (
        "import espeakng_loader\n"
        f"espeakng_loader.get_library_path = lambda: {str(tmp_path / 'libespeak-ng.so')!r}\n"
        "from assistant.devices.faults import DeviceFault\n"
        "from assistant.devices.voice.synthesis import Voice\n"
        "try:\n    Voice()\n"
        "except DeviceFault as fault:\n    print(fault)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    assert said in done.stdout


def test_a_long_path_to_the_data_is_shortened(tmp_path: Path) -> None:
    deep = tmp_path / ("d" * 80) / ("e" * 80)
    deep.mkdir(parents=True)
    (deep / "phontab").write_text("here")
    short = short_path(deep)
    assert len(str(short)) <= LONGEST_DATA_PATH < len(str(deep))
    assert (short / "phontab").read_text() == "here"
    assert short_path(Path("/short")) == Path("/short")


def test_a_long_list_is_spoken_in_breaths() -> None:
    said = "Say right plus or minus a number, correction, disregard, read back, status, stop."
    assert sentences(said) == [
        "Say right plus or minus a number,",
        "correction, disregard, read back, status,",
        "stop.",
    ]
    assert " ".join(sentences(said)) == said
    whole = "Bar in tight, key out, dial preloaded."
    assert sentences(whole) == [whole]


def test_two_that_use_the_library_keep_their_voices_apart() -> None:
    quick, slow = VoiceSettings("en-us+f3", 200), VoiceSettings("en-us+f3", 100)

    def length(engine: Espeak, settings: VoiceSettings) -> int:
        return len(engine.synthesise("two thou", settings).samples)

    one = Espeak()
    alone = length(one, quick)
    other = Espeak()
    assert length(one, quick) == pytest.approx(alone, rel=0.05)
    assert length(other, slow) > 1.3 * alone
    assert length(one, quick) == pytest.approx(alone, rel=0.05)
    spoken = other.phonemes("two thou")
    assert length(one, quick) == pytest.approx(alone, rel=0.05)
    assert other.phonemes("two thou") == spoken
