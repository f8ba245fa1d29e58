"""A sound that is played is found again at the microphone, or not claimed to be."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import numpy.typing as npt
import pytest
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.delay import RATE, Arrival, arrival, sweep
from assistant.devices.sound.echo_watch import EchoWatch
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.loop_back import hear_itself
from assistant.devices.sound.microphone import Block, Microphone
from assistant.devices.sound.speaker import Speaker
from assistant.devices.voice.synthesis import Voice
from assistant.devices.voice.tones import tone
from assistant.simulation.noise import NOISES, NoiseKind, from_int16, noise, to_int16
from assistant.simulation.speech import SpeechBank, voices
from tests.benchmarks.hearing_rooms import fft_convolved
from tests.devices.sound_stand_in import MIC, OUT, Clock, StandInLibrary

Samples = npt.NDArray[np.int16]
BEGINS = RATE // 4
VOICE = Voice()
TALK = [from_int16(SpeechBank(voices()[0]).say(words)) for words in ("front plus six", "say again")]


def _prompt(words: str) -> Samples:
    """These words as the program says them."""
    spoken, rate = VOICE.synthesise(words)
    sound = soxr.resample(spoken.astype(np.float32), rate, RATE)
    return np.asarray(np.clip(np.rint(sound), -32768, 32767), np.int16)


def _room(reverberation_s: float, seed: int = 3) -> npt.NDArray[np.float64]:
    """Noise that dies away, behind a direct sound: what ISO 3382 calls the decay."""
    times = np.arange(round(1.2 * reverberation_s * RATE)) / RATE
    tail = np.random.default_rng(seed).standard_normal(len(times))
    made = np.asarray(0.05 * tail * np.exp(-3 * np.log(10) * times / reverberation_s), np.float64)
    made[0] = 1.0
    return made


def _heard(
    sent: Samples, delay_s: float, kind: NoiseKind, snr_db: float, seed: int,
    room: npt.NDArray[np.float64] | None = None, gain: float = 0.2,
) -> Samples:  # fmt: skip
    played = from_int16(sent) * gain
    sound = np.zeros(BEGINS + len(sent) + round(1.4 * RATE))
    if room is not None:
        played = fft_convolved(played, room)
    at = BEGINS + round(delay_s * RATE)
    part = played[: len(sound) - at]
    sound[at : at + len(part)] += part
    loud = float(np.sqrt(np.mean((from_int16(sent) * 0.2) ** 2)))
    made = noise(kind, len(sound), np.random.default_rng(seed), TALK)
    return to_int16(sound + made * loud * 10 ** (-snr_db / 20))


@pytest.mark.parametrize("delay_s", [-0.05, 0.0, 0.18, 0.5, 0.9, 1.19])
@pytest.mark.parametrize("kind", ["fan", "taps", "babble", "motor"])
def test_it_is_found_to_a_millisecond_in_noise(delay_s: float, kind: NoiseKind) -> None:
    sent = sweep()
    for snr_db in (20.0, 0.0):
        found = arrival(_heard(sent, delay_s, kind, snr_db, 1), sent, BEGINS)
        assert found is not None
        assert found.delay_s == pytest.approx(delay_s, abs=0.001)


@pytest.mark.parametrize("kind", NOISES)
def test_nothing_is_found_where_nothing_was_played(kind: NoiseKind) -> None:
    sent = sweep()
    for seed in range(8):
        assert arrival(_heard(sent, 0.3, kind, 0.0, seed, gain=0.0), sent, BEGINS) is None
    assert arrival(np.zeros(3 * RATE, np.int16), sent, BEGINS) is None
    assert arrival(np.zeros(0, np.int16), sent, 0) is None
    assert arrival(sent, np.zeros(0, np.int16), 0) is None
    assert arrival(sent, sent, 10 * RATE) is None


def test_a_prompt_is_found_like_a_sweep() -> None:
    said = SpeechBank(voices()[1]).say("right minus fifteen thou")
    for delay_s in (0.02, 0.7):
        found = arrival(_heard(said, delay_s, "fan", 10.0, 1), said, BEGINS)
        assert found is not None
        assert found.delay_s == pytest.approx(delay_s, abs=0.002)
    other = SpeechBank(voices()[2]).say("right minus fifteen thou")
    assert arrival(_heard(other, 0.3, "fan", 20.0, 1), said, BEGINS) is None


@pytest.mark.parametrize("wanted", [0.3, 0.6, 0.9])
def test_the_room_dies_away_as_it_was_made_to(wanted: float) -> None:
    sent = sweep()
    found = arrival(_heard(sent, 0.2, "fan", 45.0, 1, _room(wanted)), sent, BEGINS)
    assert found is not None
    assert found.delay_s == pytest.approx(0.2, abs=0.001)
    assert found.reverberation_s == pytest.approx(wanted, rel=0.2)
    # Under noise the decay is not seen, and nothing is said of it.
    noisy = arrival(_heard(sent, 0.2, "white", 0.0, 1, _room(wanted)), sent, BEGINS)
    assert noisy is not None
    assert noisy.reverberation_s is None


class Loop:
    """A speaker whose sound comes back at the microphone, by a clock that the blocks move."""

    def __init__(self, delay_s: float, form: tuple[int, int], gain: float = 0.3) -> None:
        self.library = StandInLibrary(MIC, OUT, form=form)
        self.clock = Clock()
        rate = form[0]
        self._gain, self._frames, self._rate = gain, round(0.01 * rate), rate
        self._on_its_way: Samples = np.zeros(round(delay_s * rate), np.int16)
        self._chance = np.random.default_rng(1)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run)

    def __enter__(self) -> "Loop":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._over.wait(0.0005):
            if len(self.library.streams) == 2:
                self.step()

    def step(self) -> None:
        """Ten milliseconds, once speaker and microphone are open, in this order."""
        speaker, microphone = self.library.streams
        sound = np.concatenate([self._on_its_way, speaker.take(self._frames)])
        came, self._on_its_way = sound[: self._frames], sound[self._frames :]
        self.clock.now += self._frames / self._rate
        room = self._chance.normal(0, 30, self._frames)
        microphone.deliver(np.asarray(self._gain * came + room, np.int16))


@pytest.mark.parametrize("form", [(16_000, 1), (44_100, 2)])
@pytest.mark.parametrize("delay_ms", [0, 60, 300, 700, 1_200])
def test_the_whole_way_from_speaker_to_microphone(delay_ms: int, form: tuple[int, int]) -> None:
    found = _itself(Loop(delay_ms / 1000, form))
    assert found is not None
    # What a stream of the resampler holds back is in it too.
    assert found.delay_s == pytest.approx(delay_ms / 1000, abs=0.015)


def test_a_speaker_that_is_not_heard() -> None:
    assert _itself(Loop(0.1, (16_000, 1), gain=0.0)) is None


PROMPTS = (("right minus fifteen thou", "front plus six"), ("plus six",), ("back",))
"""A job begins with a long one; most that ask for a station are short."""


@pytest.mark.parametrize("delay_ms", [0, 120, 250, 500, 700, 900, 1_200])
def test_our_own_voice_is_dropped_however_late_it_is(delay_ms: int) -> None:
    loop, bank = Loop(delay_ms / 1000, (16_000, 1)), SpeechBank(voices()[1])
    duplex = HalfDuplex(echo=EchoWatch())
    loudest, deaf_s = [], []
    with open_both(loop, duplex) as (speaker, microphone), loop:
        for words in PROMPTS:
            said = np.concatenate([bank.say(each) for each in words])
            assert speaker.play(said, RATE)
            got, ended_at = _taken(microphone, duplex, loop.clock)
            loudest.append(max(int(np.abs(block.samples).max()) for block in got))
            deaf_s.append(got[0].at_s - ended_at)
    assert duplex.delay_s == pytest.approx(delay_ms / 1000, abs=0.02)
    # The room's noise is left, whose standard deviation is 30.
    assert max(loudest) < 200
    # And the person is heard again as soon as the room has died away.
    assert max(deaf_s) < delay_ms / 1000 + 0.35


def _taken(microphone: Microphone, duplex: HalfDuplex, clock: Clock) -> tuple[list[Block], float]:
    """What is handed out until the echo is long over, and when the last sample was played."""
    got = []
    while duplex.speaking() or clock.now < duplex.spoke_until() + 1.8:
        block = microphone.read(0.05)
        if block is not None and block.at_s > duplex.spoke_until():
            got.append(block)
    return got, duplex.spoke_until()


def test_an_answer_is_not_taken_for_the_prompt() -> None:
    """Whoever answers soon resembles the prompt's end, and is all that is heard in a quiet room."""
    chance, prominent = np.random.default_rng(7), 0
    for words in ("is the machine unplugged", "right", "left plus five back again"):
        said = _prompt(words)
        for voice in voices():
            for answer in ("yes", "minus four", "right plus six"):
                heard = chance.normal(0, 12, BEGINS + len(said) + round(1.3 * RATE))
                spoken = SpeechBank(voice).say(answer)
                at = BEGINS + len(said) + round(chance.uniform(0.2, 0.8) * RATE)
                part = spoken[: len(heard) - at]
                heard[at : at + len(part)] += part
                sound = np.asarray(np.rint(heard), np.int16)
                prominent += arrival(sound, said, BEGINS) is not None
                assert not _is_heard(sound, said)
    # Prominence alone would take many of them.
    assert prominent > 5


def _is_heard(sound: Samples, said: Samples) -> bool:
    """Whether a watch that is told both finds the prompt."""
    watch = EchoWatch()
    watch.plays(said, RATE, BEGINS / RATE)
    for begin in range(0, len(sound), 480):
        block = sound[begin : begin + 480]
        watch.hears(block, (begin + len(block)) / RATE)
    return watch.delay_s is not None


@pytest.mark.parametrize("kind", ["fan", "taps", "babble"])
def test_a_prompt_that_comes_back_is_found_in_a_room_and_in_noise(kind: NoiseKind) -> None:
    for number, words in enumerate(("is the machine unplugged", "right", "left plus five")):
        said = _prompt(words)
        for delay_s in (0.05, 0.6):
            assert _is_heard(_heard(said, delay_s, kind, 10.0, number, _room(0.5)), said)


def test_tones_and_silence_tell_nothing() -> None:
    watch = EchoWatch()
    for turn in range(4):
        at = 10.0 * turn
        watch.plays(tone("heard", RATE).copy(), RATE, at)
        for step in range(60):
            watch.hears(np.zeros(480, np.int16), at + 0.03 * (step + 1))
    assert watch.delay_s is None


def test_tones_and_prompts_at_rates_of_their_own_are_laid_side_by_side() -> None:
    """A long tone at 48 kHz, and a short prompt at another rate that ends before it."""
    chance = np.random.default_rng(4)
    long = (3_000 * chance.standard_normal(48_000)).astype(np.int16)
    short = (3_000 * chance.standard_normal(4_000)).astype(np.int16)
    watch = EchoWatch()
    watch.plays(long, 48_000, 0.0)
    watch.plays(short, 22_050, 0.1)
    for step in range(120):
        watch.hears(np.zeros(480, np.int16), 0.03 * (step + 1))
    assert watch.delay_s is None


@contextmanager
def open_both(loop: Loop, duplex: HalfDuplex) -> Iterator[tuple[Speaker, Microphone]]:
    """Speaker and microphone at the two ends of that loop."""
    with Speaker(loop.library, None, lambda _: None, duplex, clock=loop.clock) as speaker:
        assert speaker.lifeline.wait_for_first_attempt(5) is None
        with Microphone(loop.library, None, lambda _: None, duplex, clock=loop.clock) as microphone:
            assert microphone.lifeline.wait_for_first_attempt(5) is None
            yield speaker, microphone


def _itself(loop: Loop) -> Arrival | None:
    with open_both(loop, HalfDuplex(headset=True)) as (speaker, microphone), loop:
        return hear_itself(speaker, microphone)
