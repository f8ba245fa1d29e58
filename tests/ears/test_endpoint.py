"""Utterances are cut out of a stream at the same samples for any block size."""

from dataclasses import replace

import numpy as np
import pytest

from assistant.devices.ears.endpoint import CHUNK_S, Cut, Endpointer, EndpointRule, rule_for
from assistant.devices.ears.voice_activity import (
    CHUNK,
    EnergyActivity,
    NeuralActivity,
    Samples,
    VoiceActivity,
)
from assistant.simulation.noise import NoiseKind, noise, to_int16
from tests.ears.sounds import RATE, clip, noisy, quiet


class Loud:
    """A detector for tests: a chunk is voiced when its first sample is not zero, perhaps if 1."""

    def probability(self, chunk: Samples) -> float:
        return 0.2 if chunk[0] == 1 else float(chunk[0] != 0)

    def reset(self) -> None:
        pass


def stream(pattern: str) -> Samples:
    """One chunk for each character: "#" voiced, "." not, "?" perhaps."""
    level = {"#": 1000, "?": 1, ".": 0}
    return np.repeat([level[mark] for mark in pattern], CHUNK).astype(np.int16)


def cuts(pattern: str, rule: EndpointRule | None = None) -> list[Cut]:
    endpointer = Endpointer(Loud(), rule)
    return [*endpointer.feed(stream(pattern)), *endpointer.flush()]


def test_a_call_is_provisional_first_and_then_final() -> None:
    found = cuts("." * 20 + "#" * 10 + "." * 12)
    assert [cut.state for cut in found] == ["provisional", "final"]
    for cut in found:
        assert cut.start_s == pytest.approx(20 * CHUNK_S)
        assert cut.end_s == pytest.approx(30 * CHUNK_S)
    assert np.array_equal(found[0].samples, found[1].samples)


def test_the_wait_is_at_most_a_third_of_a_second() -> None:
    endpointer = Endpointer(Loud())
    waited = 0
    list(endpointer.feed(stream("." * 20 + "#" * 10)))
    while not any(cut.state == "final" for cut in endpointer.feed(stream("."))):
        waited += 1
    assert (waited + 1) * CHUNK_S <= 0.35


def test_sound_before_the_first_voiced_chunk_is_kept() -> None:
    final = cuts("." * 30 + "#" * 10 + "." * 12)[-1]
    kept = int(np.flatnonzero(final.samples)[0]) / RATE
    assert 0.4 <= kept <= 0.55


def test_going_on_takes_the_provisional_end_back() -> None:
    found = cuts("." * 9 + "#" * 9 + "." * 6 + "#" * 9 + "." * 12)
    assert [cut.state for cut in found] == ["provisional", "resumed", "provisional", "final"]


def test_patience_lasts_for_one_pause() -> None:
    endpointer = Endpointer(Loud())
    states = []
    for mark in "." * 9 + "#" * 9 + "." * 20 + "#" * 9 + "." * 12:
        for cut in endpointer.feed(stream(mark)):
            states.append(cut.state)
            if states == ["provisional"]:
                endpointer.be_patient()
    assert states == ["provisional", "resumed", "provisional", "final"]


def test_a_quick_end_comes_sooner_for_one_pause() -> None:
    endpointer = Endpointer(Loud())
    ends: list[int] = []
    provisionals = 0
    for index, mark in enumerate("#" * 9 + "." * 5 + "#" * 9 + "." * 20 + "#" * 9 + "." * 20):
        for cut in endpointer.feed(stream(mark)):
            provisionals += cut.state == "provisional"
            if cut.state == "provisional" and provisionals < 3:
                endpointer.be_quick()
            if cut.state == "final":
                ends.append(index - round(cut.end_s / CHUNK_S) + 1)
    # 0.22 s and 0.32 s of silence are 7 and 10 chunks.
    assert ends == [7, 10]


def test_a_voice_that_may_be_beginning_is_waited_for() -> None:
    """Ten chunks of silence are an end, and five more while somebody may be speaking."""

    def ends(pattern: str) -> list[int]:
        endpointer, found = Endpointer(Loud()), []
        for index, mark in enumerate(pattern):
            states = [cut.state for cut in endpointer.feed(stream(mark))]
            found += [index] if "final" in states else []
        return found

    assert ends("#" * 9 + "." * 20) == [18]
    assert ends("#" * 9 + "." * 7 + "?" * 5 + "#" * 9 + "." * 20) == [39]
    assert ends("#" * 9 + "." * 6 + "??" + "." * 20) == [19]
    assert ends("#" * 9 + "?" * 20) == [23]


class Told:
    """A detector for tests: the first sample of a chunk says how likely a voice, in tenths."""

    def probability(self, chunk: Samples) -> float:
        return float(chunk[0]) / 10

    def reset(self) -> None:
        pass


def spans(*runs: tuple[int, int]) -> list[tuple[int, int]]:
    """From which chunk to which utterances go. ``runs``: tenths, and for how many chunks."""
    tenths = np.concatenate([np.full(chunks, tenth) for tenth, chunks in runs])
    rule = replace(rule_for(NeuralActivity()), raised_db=0.0)
    endpointer = Endpointer(Told(), rule)
    found = [*endpointer.feed(np.repeat(tenths, CHUNK).astype(np.int16)), *endpointer.flush()]
    return [
        (round(cut.start_s / CHUNK_S), round(cut.end_s / CHUNK_S))
        for cut in found
        if cut.state == "final"
    ]


def test_a_voice_that_is_hardly_known_is_heard_where_nobody_spoke_just_before() -> None:
    assert spans((0, 20), (4, 3), (3, 3), (0, 20)) == [(20, 26)]
    assert spans((0, 20), (2, 9), (0, 20)) == []
    a_room = (0, 20), (9, 9), (0, 20)
    assert spans(*a_room, (4, 6), (0, 20)) == [(20, 29)]
    assert spans(*a_room, (0, 30), (4, 6), (0, 20)) == [(20, 29), (79, 85)]


def test_a_voice_that_is_known_ends_as_soon_as_it_is_less_sure() -> None:
    assert spans((0, 20), (9, 9), (3, 6), (0, 20)) == [(20, 29)]
    assert spans((0, 20), (9, 9), (0, 5), (4, 3), (0, 20)) == [(20, 29)]
    assert spans((0, 20), (5, 9), (0, 5), (4, 3), (0, 20)) == [(20, 37)]


def test_a_knock_is_no_utterance_and_stays_in_the_pre_roll() -> None:
    assert cuts("." * 20 + "##" + "." * 20) == []
    final = cuts("." * 20 + "##" + "." * 6 + "#" * 10 + "." * 12)[-1]
    assert np.count_nonzero(final.samples) == 12 * CHUNK


def voices(pattern: str) -> Samples:
    """One chunk for each character: a loud voice "#", one 20 dB quieter "-", none "."."""
    level = {"#": 1000, "-": 100, ".": 0}
    return np.repeat([level[mark] for mark in pattern], CHUNK).astype(np.int16)


def test_a_near_voice_is_cut_out_of_others_further_away() -> None:
    endpointer = Endpointer(Loud())
    sound = voices("." * 20 + "-" * 30 + "#" * 15 + "-" * 30 + "." * 20)
    first, second = (cut for cut in endpointer.feed(sound) if cut.state == "final")
    assert first.start_s == pytest.approx(50 * CHUNK_S)
    assert first.end_s == pytest.approx(65 * CHUNK_S)
    assert second.start_s > first.end_s


def test_voices_that_were_not_for_us_are_others_in_the_next_call() -> None:
    after = "#" * 15 + "-" * 20 + "." * 20
    endpointer = Endpointer(Loud())
    (talk,) = (c for c in endpointer.feed(voices("-" * 30 + "." * 20)) if c.state == "final")
    endpointer.dismiss()
    (call, _) = (c for c in endpointer.feed(voices(after)) if c.state == "final")
    assert call.end_s - call.start_s == pytest.approx(15 * CHUNK_S)
    assert talk.end_s < call.start_s
    # A weak ending is not cut off where nobody else was heard.
    (alone,) = (c for c in Endpointer(Loud()).feed(voices(after)) if c.state == "final")
    assert alone.end_s - alone.start_s == pytest.approx(35 * CHUNK_S)


def test_endless_talk_is_capped_and_holds_no_sound() -> None:
    found = cuts("." * 9 + "#" * 400 + "." * 12)
    assert [cut.state for cut in found] == ["final"]
    assert found[0].overlong
    assert len(found[0].samples) == 0


def test_a_call_that_the_stream_ends_in_is_not_lost() -> None:
    assert [cut.state for cut in cuts("." * 9 + "#" * 9)] == ["final"]


def test_a_reset_drops_the_open_call_and_keeps_the_time() -> None:
    endpointer = Endpointer(Loud())
    list(endpointer.feed(stream("#" * 10)))
    endpointer.reset()
    found = [*endpointer.feed(stream("." * 5 + "#" * 10 + "." * 12))]
    assert found[-1].start_s == pytest.approx(15 * CHUNK_S)


@pytest.mark.parametrize("size", [1_000_000, 4000, 777, 160, 31])
def test_any_block_size_gives_the_same_cut(size: int) -> None:
    sound = np.concatenate([quiet(0.4), clip("right plus one"), quiet(0.7), clip("left minus one")])
    whole = _finals(sound, len(sound))
    assert len(whole) == 2
    parts = _finals(sound, size)
    assert [(cut.start_s, cut.end_s, cut.snr_db) for cut in parts] == [
        (cut.start_s, cut.end_s, cut.snr_db) for cut in whole
    ]
    assert all(np.array_equal(a.samples, b.samples) for a, b in zip(parts, whole, strict=True))


def _finals(sound: Samples, size: int, activity: VoiceActivity | None = None) -> list[Cut]:
    endpointer = Endpointer(activity or NeuralActivity())
    found = [
        cut
        for begin in range(0, len(sound), size)
        for cut in endpointer.feed(sound[begin : begin + size])
    ]
    return [cut for cut in [*found, *endpointer.flush()] if cut.state == "final"]


@pytest.mark.parametrize("activity", [NeuralActivity, EnergyActivity])
@pytest.mark.parametrize("snr_db", [30.0, 20.0, 10.0])
def test_both_detectors_find_the_call(
    activity: type[NeuralActivity] | type[EnergyActivity], snr_db: float
) -> None:
    sound = np.concatenate([quiet(1.0), clip("right plus one"), quiet(1.0)])
    found = _finals(noisy(sound, snr_db), 800, activity())
    assert len(found) == 1
    assert found[0].start_s == pytest.approx(1.4, abs=0.2)
    assert 2.1 <= found[0].end_s <= 2.7


def _in_a_room(sound: Samples, speech_db: float, room_db: float) -> Samples:
    """A voice this loud, by mean power of its louder half, after a second of the room's noise."""
    voice = np.concatenate([quiet(1.0), sound, quiet(1.0)]).astype(np.float64)
    loud = np.mean(np.sort(voice[voice != 0] ** 2)[np.count_nonzero(voice) // 2 :])
    voice *= 32_768 * 10 ** (speech_db / 20) / np.sqrt(loud)
    chance = np.random.default_rng(len(sound))
    noise = 32_768 * 10 ** (room_db / 20) * chance.standard_normal(len(voice))
    mixed: Samples = np.rint(voice + noise).astype(np.int16)
    return mixed


QUIET_DB, ROOM_DB = -62.0, -75.0
"""A soft voice far from the microphone, in dB of full scale, in a quiet room."""

WORDS = ("yes", "no", "done", "stop", "locked", "zeroed", "next", "skip")


def test_a_soft_voice_in_a_quiet_room_is_found() -> None:
    voices = [clip(word, voice) for word in WORDS for voice in ("rms", "awb")]
    sounds = [_in_a_room(sound, QUIET_DB, ROOM_DB) for sound in voices]
    plain = [Endpointer(NeuralActivity(), EndpointRule()) for _ in sounds]
    passed_over = sum(
        not any(cut.state == "final" for cut in one.feed(sound))
        for one, sound in zip(plain, sounds, strict=True)
    )
    assert passed_over > len(sounds) / 4
    assert sum(not _finals(sound, 800) for sound in sounds) <= 1


@pytest.mark.parametrize("kind", ["fan", "motor", "taps", "grinder", "white"])
@pytest.mark.parametrize("level_db", [-70.0, -55.0, -40.0])
def test_nothing_begins_in_noise_alone(kind: NoiseKind, level_db: float) -> None:
    made = noise(kind, 10 * RATE, np.random.default_rng(3)) * 10 ** (level_db / 20)
    assert _finals(to_int16(made), 800) == []


def test_a_blow_in_a_quiet_room_is_no_voice() -> None:
    made = noise("white", 10 * RATE, np.random.default_rng(4)) * 10 ** (ROOM_DB / 20)
    ring = noise("taps", RATE // 2, np.random.default_rng(5))
    for peak_db in (-50.0, -30.0, -10.0):
        blows = made.copy()
        for start in range(RATE, len(blows) - RATE, 2 * RATE):
            blows[start : start + len(ring)] += ring / np.max(np.abs(ring)) * 10 ** (peak_db / 20)
        assert _finals(to_int16(blows), 800) == []


class _Levels(NeuralActivity):
    """Notes how loud what it is given is."""

    def __init__(self) -> None:
        self.peaks: list[int] = []

    def probability(self, chunk: Samples) -> float:
        self.peaks.append(int(np.max(np.abs(chunk.astype(np.int32)))))
        return 0.0

    def reset(self) -> None:
        pass


@pytest.mark.parametrize(
    ("room", "voice", "heard"),
    [(1, 300, 3_000), (1, 10_000, 16_000), (1, 30_000, 30_000), (70, 3_000, 4_480),
     (3_000, 9_000, 9_000)],
    ids=["ten times", "as far as it goes in", "not softer", "up to -50 dB", "not in noise"],
)  # fmt: skip
def test_the_detector_hears_a_quiet_room_louder(room: int, voice: int, heard: int) -> None:
    """-50 dB of 32,768 is 103.6: by the definition of the decibel."""
    activity = _Levels()
    endpointer = Endpointer(activity)
    list(endpointer.feed(np.full(20 * CHUNK, room, np.int16)))
    list(endpointer.feed(np.full(CHUNK, voice, np.int16)))
    assert activity.peaks[0] == room, "nothing is known of the room yet"
    assert activity.peaks[-1] == pytest.approx(heard, rel=0.02)


def test_only_the_neural_detector_is_deaf_to_knocks() -> None:
    knocks = quiet(4.0)
    chance = np.random.default_rng(5)
    ring = 12_000 * np.exp(-np.arange(4800) / 1200) * chance.standard_normal(4800)
    for start in range(8000, len(knocks) - 4800, 9000):
        knocks[start : start + 4800] = ring.clip(-32768, 32767)
    assert _finals(knocks, 800, NeuralActivity()) == []
    assert _finals(knocks, 800, EnergyActivity())


def test_the_ratio_is_that_of_the_powers() -> None:
    """Definition: ten times the logarithm of speech power over noise power."""
    sound = stream("." * 40 + "#" * 20 + "." * 12).astype(np.float64)
    noise = np.random.default_rng(2).standard_normal(len(sound)) * 100
    mixed = np.rint(sound + noise).astype(np.int16)

    class Steady(Loud):
        def probability(self, chunk: Samples) -> float:
            return float(abs(chunk.mean()) > 500)

    endpointer = Endpointer(Steady())
    final = next(cut for cut in endpointer.feed(mixed) if cut.state == "final")
    assert final.snr_db == pytest.approx(20.0, abs=0.2)
    assert final.noise_db == pytest.approx(40.0, abs=0.2)
