"""Wishes for another voice: what they change of the sound, at their ends, and in the mouth."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from assistant.bench.live_bench import LiveBench
from assistant.bench.tuning import RATE_STEP, SOFTEST, VOLUME_STEP, tuned
from assistant.bench.wishes import Wishes
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.text.lines import event_of
from assistant.devices.voice.mouth import Mouth
from assistant.devices.voice.speech_engine import FASTEST_WPM, SLOWEST_WPM, Speech, VoiceSettings
from assistant.devices.voice.synthesis import Samples, Voice
from assistant.dialogue.messages import VoiceWish
from assistant.dialogue.questions import offer_now
from assistant.dialogue.wishes import at_its_end
from tests.devices.stand_in_bench import StandInBench

MIDDLE = SoundSettings(volume=50, rate=130)


@pytest.mark.parametrize(
    ("wish", "changed"),
    [
        ("louder", replace(MIDDLE, volume=50 + VOLUME_STEP)),
        ("softer", replace(MIDDLE, volume=50 - VOLUME_STEP)),
        ("faster", replace(MIDDLE, rate=130 + RATE_STEP)),
        ("slower", replace(MIDDLE, rate=130 - RATE_STEP)),
        ("quiet", replace(MIDDLE, quiet=True)),
        ("talk", MIDDLE),
        ("short", replace(MIDDLE, prompts="short")),
        ("long", replace(MIDDLE, prompts="long")),
    ],
)
def test_a_wish_changes_one_thing_by_a_step(wish: VoiceWish, changed: SoundSettings) -> None:
    assert tuned(MIDDLE, wish) == changed


@pytest.mark.parametrize(
    ("wish", "at_end"),
    [
        ("louder", SoundSettings(volume=100)), ("softer", SoundSettings(volume=SOFTEST)),
        ("faster", SoundSettings(rate=FASTEST_WPM)), ("slower", SoundSettings(rate=SLOWEST_WPM)),
    ],
)  # fmt: skip
def test_a_wish_goes_to_its_end_and_stays_there(wish: VoiceWish, at_end: SoundSettings) -> None:
    sound = SoundSettings(volume=60, rate=130)
    for _ in range(20):
        sound = tuned(sound, wish)
    assert (sound.volume, sound.rate) in (
        (at_end.volume, 130), (60, at_end.rate)
    )  # fmt: skip
    assert tuned(sound, wish) == sound


def test_softer_never_makes_a_very_soft_voice_louder() -> None:
    assert tuned(SoundSettings(volume=3), "softer").volume == 3


def test_what_is_quiet_talks_again() -> None:
    assert not tuned(tuned(MIDDLE, "quiet"), "talk").quiet


class _Speaker:
    """Keeps what is played: how long and how loud."""

    def __init__(self) -> None:
        self.played: list[tuple[int, int]] = []

    def play(self, samples: Samples, _rate: int) -> None:
        self.played.append((len(samples), int(np.max(np.abs(samples)))))


class _Paced:
    """Speech that is as long and as loud as its settings say."""

    def synthesise(self, _text: str, settings: VoiceSettings) -> Speech:
        level = round(10_000 * settings.volume)
        return Speech(np.full(100_000 // settings.rate_wpm, level, np.int16), 16_000)


def test_the_mouth_speaks_otherwise_from_the_next_prompt_on_and_its_tones_go_with_it() -> None:
    speaker = _Speaker()
    mouth = Mouth(Voice(engine=_Paced()), speaker, lambda _: None)  # type: ignore[arg-type]
    mouth.say("Right?")
    mouth.tone("heard")
    mouth.tune(VoiceSettings(rate_wpm=SLOWEST_WPM, volume=0.25))
    mouth.say("Right?")
    mouth.tone("heard")
    (length, loud), (_, tone), (longer, softer), (_, soft_tone) = speaker.played
    assert longer > length
    assert softer == loud / 4
    assert soft_tone == pytest.approx(tone / 4, abs=2)


def test_the_room_raises_a_tuned_voice_and_lets_it_go_back_to_that() -> None:
    speaker, noise_db = _Speaker(), [-70.0]
    mouth = Mouth(Voice(engine=_Paced()), speaker, lambda _: None, noise_db=lambda: noise_db[0])  # type: ignore[arg-type]
    mouth.tune(VoiceSettings(rate_wpm=FASTEST_WPM))
    for level in (-70.0, -40.0, -70.0):
        noise_db[0] = level
        mouth.say("Right?")
    before, raised, after = speaker.played
    assert raised[0] > before[0]
    assert raised[1] > before[1]
    assert after == before


def _typed(bench: LiveBench, line: str) -> None:
    state = bench.loop.state
    assert state is not None
    bench.handle(event_of(line, "2031", state.turn, state.profile.scale))


def test_the_bench_keeps_what_was_wished_and_says_where_it_ends(tmp_path: Path) -> None:
    kept: list[SoundSettings] = []
    sound = SoundSettings(headset=True, volume=90)
    stand_in = StandInBench(tmp_path, Wishes(sound=sound, keep_sound=kept.append))
    with stand_in.running() as bench:
        for line in ("louder", "louder", "quiet", "talk"):
            _typed(bench, line)
    ends = at_its_end("louder")
    assert stand_in.engine.spoken.count(ends) == 1
    assert [one.volume for one in kept] == [100, 100, 100, 100]
    assert [one.quiet for one in kept] == [False, False, True, False]
    assert kept[-1] == replace(sound, volume=100)


def test_a_quiet_bench_begins_a_job_that_can_be_asked_to_talk(tmp_path: Path) -> None:
    stand_in = StandInBench(tmp_path, Wishes(sound=SoundSettings(headset=True, quiet=True)))
    with stand_in.running() as bench:
        assert _talk_offered(bench) == (True, True)
        stand_in.forget_speech()
        _typed(bench, "yes")
        assert stand_in.engine.spoken == []
        _typed(bench, "talk")
        assert _talk_offered(bench) == (False, False)
        assert stand_in.engine.spoken != []


def _talk_offered(bench: LiveBench) -> tuple[bool, bool]:
    state = bench.loop.state
    assert state is not None
    return state.quiet, "talk" in offer_now(state).commands
