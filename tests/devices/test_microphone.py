"""The microphone without hardware: any form in, 16 kHz mono out, gaps told."""

import numpy as np
import pytest

from assistant.devices.faults import DeviceFault
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.library import SoundDevice, find, plain_name
from assistant.devices.sound.microphone import LONGEST_QUEUE, Block, Microphone, level_db
from tests.devices.sound_stand_in import MIC, OUT, Clock, StandInLibrary


def _opened(
    library: StandInLibrary, clock: Clock, duplex: HalfDuplex | None = None
) -> tuple[Microphone, list[str | None]]:
    reports: list[str | None] = []
    mic = Microphone(library, None, reports.append, duplex or HalfDuplex(), clock=clock)
    mic.lifeline.tick()
    return mic, reports


def _all(mic: Microphone) -> list[Block]:
    blocks = []
    while (block := mic.read(0.0)) is not None:
        blocks.append(block)
    return blocks


@pytest.mark.parametrize("form", [(16_000, 1), (16_000, 2), (44_100, 2), (48_000, 1), (8_000, 1)])
def test_any_form_becomes_speech_rate(form: tuple[int, int]) -> None:
    rate, _ = form
    clock = Clock()
    library = StandInLibrary(MIC, form=form)
    mic, _ = _opened(library, clock)
    time = np.arange(2 * rate) / rate
    sound = np.asarray(10_000 * np.sin(2 * np.pi * 1_000 * time), np.int16)
    for start in range(0, len(sound), 480):
        clock.now += 480 / rate
        library.streams[0].deliver(sound[start : start + 480])
    got = np.concatenate([block.samples for block in _all(mic)])
    assert got.dtype == np.int16
    assert len(got) == pytest.approx(32_000, abs=800)
    middle = got[8_000:24_000].astype(float)
    peak = np.argmax(np.abs(np.fft.rfft(middle * np.hanning(len(middle)))))
    assert peak == pytest.approx(1_000, abs=1)  # 16,000 samples: 1 Hz a bin
    assert np.abs(middle).max() == pytest.approx(10_000, rel=0.02)


def test_sound_above_what_16_khz_can_hold_does_not_fold_back() -> None:
    clock = Clock()
    library = StandInLibrary(MIC, form=(48_000, 1))
    mic, _ = _opened(library, clock)
    time = np.arange(48_000) / 48_000
    library.streams[0].deliver(np.asarray(10_000 * np.sin(2 * np.pi * 15_000 * time), np.int16))
    got = np.concatenate([block.samples for block in _all(mic)])
    assert np.abs(got[1_000:-1_000]).max() < 30, "15 kHz would fold to 1 kHz"


def test_blocks_during_our_own_voice_are_dropped_and_the_gap_is_told() -> None:
    clock, duplex = Clock(), HalfDuplex()
    library = StandInLibrary(MIC)
    mic, _ = _opened(library, clock, duplex)
    stream = library.streams[0]
    for number in range(100):  # 3 s, speaking from 1.2 s to 1.8 s
        clock.now += 0.03
        if number == 40:
            duplex.begins(clock.now)
        if number == 60:
            duplex.ends(clock.now)
        stream.deliver(np.full(480, number, np.int16))
    blocks = _all(mic)
    heard = [int(block.samples[0]) for block in blocks]
    assert heard == [*range(41), *range(68, 100)]  # 0.2 s of tail is 6.7 blocks
    gaps = [int(block.samples[0]) for block in blocks if block.gap]
    assert gaps == [0, 68]
    assert [int(block.samples[0]) for block in blocks if block.lost] == [0]


def test_what_was_lost_under_our_own_voice_is_not_told_as_lost() -> None:
    """It cut off whoever spoke, and asks for what it wants by itself."""
    clock, duplex = Clock(), HalfDuplex()
    library = StandInLibrary(MIC)
    mic, _ = _opened(library, clock, duplex)
    for number in range(100):  # speaking from 1.2 s to 1.8 s
        clock.now += 0.03 + 0.3 * (number == 39)
        if number == 40:
            duplex.begins(clock.now)
        if number == 60:
            duplex.ends(clock.now)
        library.streams[0].deliver(np.full(480, number, np.int16))
    blocks = _all(mic)
    assert [block.lost for block in blocks if block.gap] == [True, False]


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_a_resampler_that_holds_sound_back_is_not_told_as_silence(rate: int) -> None:
    clock, duplex = Clock(), HalfDuplex()
    library = StandInLibrary(MIC, form=(rate, 2))
    mic, _ = _opened(library, clock, duplex)
    chance, block = np.random.default_rng(3), round(0.01 * rate)
    duplex.begins(clock.now)
    for number in range(300):
        clock.now += 0.01
        if number == 200:
            duplex.ends(clock.now)
        library.streams[0].deliver(chance.normal(0, 1_000, block).astype(np.int16))
    levels = [level for one in _all(mic) for _, level in one.unheard]
    assert len(levels) > 40
    assert min(levels) > -50


def test_nobody_reads_for_a_while() -> None:
    clock = Clock()
    library = StandInLibrary(MIC)
    mic, _ = _opened(library, clock)
    for number in range(LONGEST_QUEUE + 50):
        library.streams[0].deliver(np.full(480, number, np.int16))
    assert mic.overruns == 50
    first = [mic.read(0.0) for _ in range(10)]
    library.streams[0].deliver(np.full(480, 9_999, np.int16))
    last = _all(mic)[-1]
    assert first[1] is not None
    assert not first[1].gap
    assert last.gap, "what was lost was lost here"
    assert last.lost
    assert last.samples[0] == 9_999


def test_lost_and_back_resumes_with_a_gap() -> None:
    clock = Clock()
    library = StandInLibrary(MIC)
    mic, reports = _opened(library, clock)
    library.streams[0].deliver(np.zeros(480, np.int16))
    mic.lifeline.tick()
    library.present.clear()
    library.streams[0].close()
    for _ in range(30):
        clock.now += 0.1
        mic.lifeline.tick()
    assert reports == ["it is gone"]
    assert mic.read(0.0) is not None, "what came before is still there"
    assert mic.read(0.0) is None
    library.present.append(MIC)
    clock.now += 2.0
    mic.lifeline.tick()
    library.streams[-1].deliver(np.ones(480, np.int16))
    mic.lifeline.tick()
    assert reports == ["it is gone", None]
    block = mic.read(0.0)
    assert block is not None
    assert block.gap


def test_no_look_for_devices_while_speaking() -> None:
    """Looking may restart the sound system, which would cut the prompt off."""
    clock, duplex = Clock(), HalfDuplex()
    library = StandInLibrary()
    mic, reports = _opened(library, clock, duplex)
    assert reports == ["there is no microphone"]
    duplex.begins(clock.now)
    clock.now += 5
    mic.lifeline.tick()
    assert library.looks == 0
    duplex.ends(clock.now)
    clock.now += 5
    mic.lifeline.tick()
    assert library.looks == 1


def test_levels_under_our_own_voice_come_with_the_next_block() -> None:
    clock, duplex, library = Clock(), HalfDuplex(), StandInLibrary(MIC)
    mic, _ = _opened(library, clock, duplex)
    duplex.begins(clock.now)
    for level in (1000, 10):
        clock.now += 0.03
        library.streams[0].deliver(np.full(480, level, np.int16))
    assert mic.read(0.0) is None
    duplex.ends(clock.now)
    clock.now += 1.0
    library.streams[0].deliver(np.full(480, 100, np.int16))
    block = mic.read(0.0)
    assert block is not None
    assert [level for _, level in block.unheard] == pytest.approx([-30.3, -70.3], abs=0.1)
    library.streams[0].deliver(np.full(480, 100, np.int16))
    again = mic.read(0.0)
    assert again is not None
    assert again.unheard == ()


def test_level() -> None:
    assert level_db(np.zeros(480, np.int16)) == -100.0
    assert level_db(np.zeros(0, np.int16)) == -100.0
    full = np.asarray(32767 * np.sin(np.arange(16_000) * 0.1), np.int16)
    assert level_db(full) == pytest.approx(-3.01, abs=0.02)  # a full sine: 1 / sqrt 2


def _named(*names: str) -> list[SoundDevice]:
    return [SoundDevice(number, name, 1, 1, 48_000) for number, name in enumerate(names)]


def test_a_device_is_found_by_name_whatever_its_card_number() -> None:
    there = _named("Built-in (hw:0,0)", "USB Microphone: Audio (hw:3,0)", "default")
    assert find(there, "microphone", "USB Microphone: Audio (hw:1,0)").index == 1
    assert find(there, "microphone", "usb").index == 1
    assert find(there, "microphone", "DEFAULT").index == 2
    assert plain_name("pulse") == "pulse"


def test_the_systems_own_choice() -> None:
    assert find([OUT, MIC], "microphone", None) is MIC
    assert find([OUT, MIC], "speaker", None) is OUT


@pytest.mark.parametrize(
    ("there", "wanted", "said"),
    [
        ([], None, "there is no microphone; plug one in"),
        ([OUT], None, "there is no microphone; plug one in"),
        (_named("Alpha", "Beta"), "gamma", "there is no 'gamma'; plug it in, or choose one of: A"),
        (_named("USB one", "USB two"), "usb", "fits several; choose one of: USB one, USB two"),
    ],
)
def test_no_such_device(there: list[SoundDevice], wanted: str | None, said: str) -> None:
    with pytest.raises(DeviceFault, match=said) as told:
        find(there, "microphone", wanted)
    assert "\n" not in str(told.value)
