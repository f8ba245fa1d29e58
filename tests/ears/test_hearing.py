"""Recordings through the whole of the ears: what is heard, and what is turned down."""

import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr  # type: ignore[import-untyped]

from assistant.devices.ears.endpoint import Cut, Endpointer
from assistant.devices.ears.fallback.gates import OURS, RIGHT
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary
from assistant.devices.ears.hearing import Decoded, Ears, Utterance
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.verify import verify
from assistant.dialogue.messages import TURNED_DOWN
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from grammar.meaning import Command, Hypothesis, Reading, Unclear
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.scale import Scale
from grammar.sentences import sentences, words_of
from grammar.vocabulary import COMMANDS, PRONUNCIATIONS
from tests.ears.sounds import RATE, TESTDATA, Samples, clip, noisy, quiet
from tests.recordings import read_all

SWEEP = phase_offer(Sweeping.SWEEP, Scale())
ALL = everything(Scale())

human = pytest.mark.skipif(
    not TESTDATA.is_dir(), reason="Debian's pocketsphinx-testdata is not installed"
)


def hear(
    recogniser: PocketSphinx, sound: Samples, offer: Offer = ALL, size: int = 1600
) -> list[Utterance]:
    ears = Ears(recogniser, verify, Endpointer())
    ears.arm(offer)
    found = [
        heard
        for begin in range(0, len(sound), size)
        for heard in ears.feed(sound[begin : begin + size])
    ]
    return found + ears.flush()


CALLS = np.concatenate([clip("right plus one"), quiet(0.5), clip("say again", "slt")])


def test_calls_and_commands_are_heard(recogniser: PocketSphinx) -> None:
    first, second = hear(recogniser, CALLS)
    assert first.outcome == second.outcome == "accept"
    assert first.meaning == Reading(Decimal(1), signed=True, station="right")
    assert second.meaning == Command("say again")
    assert 0.3 < first.start_s < 0.5
    assert OURS * RIGHT <= first.confidence <= 1
    assert first.snr_db > 25


@pytest.mark.parametrize("size", [1_000_000, 480, 97])
def test_any_block_size_gives_the_same(recogniser: PocketSphinx, size: int) -> None:
    def facts(heard: Utterance) -> tuple[object, ...]:
        return heard.words, heard.outcome, heard.confidence, heard.start_s, heard.alternatives

    expected = [facts(heard) for heard in hear(recogniser, CALLS)]
    assert [facts(heard) for heard in hear(recogniser, CALLS, size=size)] == expected


def test_the_same_sound_gives_the_same_scores_whatever_came_before(
    recogniser: PocketSphinx,
) -> None:
    recogniser.arm(SWEEP)
    first = recogniser.decode(clip("right plus one"))
    recogniser.decode(noisy(clip("left minus one", "awb"), 5))
    assert recogniser.decode(clip("right plus one")) == first


def test_only_what_is_offered_is_heard(recogniser: PocketSphinx) -> None:
    call = clip("right plus one")
    recogniser.arm(Offer(Scale(), ("done", "locked")))
    assert recogniser.decode(call).ours < 0.1
    recogniser.arm(Offer(Scale(), readings=True, stations=False))
    assert all(
        isinstance(one.meaning, Reading) and one.meaning.station is None
        for one in recogniser.decode(call).hypotheses
    )
    recogniser.arm(SWEEP)
    assert recogniser.decode(call).hypotheses[0].words == "right plus one"


def test_rivals_are_other_meanings_and_less_likely(recogniser: PocketSphinx) -> None:
    recogniser.arm(ALL)
    found = recogniser.decode(noisy(clip("right plus one"), 10)).hypotheses
    assert len(found) > 2
    sure = [one.confidence for one in found]
    assert sure == sorted(sure, reverse=True)
    assert sum(sure) <= 1.000001
    assert len({repr(one.meaning) for one in found}) == len(found)
    assert all(ALL.allows(one.meaning) for one in found)


def test_a_bare_number_and_tenths_are_asked(recogniser: PocketSphinx) -> None:
    (heard,) = hear(recogniser, clip("front eight", "slt"))
    assert heard.outcome == "ask"
    assert isinstance(heard.meaning, Reading)
    assert not heard.meaning.signed
    assert heard.meaning.value > 0
    tenths = Decoded(
        (Hypothesis("plus two tenths", parse("plus two tenths", Scale()), 1.0),), "", 1.0
    )
    whole = Cut("final", 0, 1, quiet(1), 60, 20, 40)
    assert verify(tenths, whole) == "ask"
    assert verify(Decoded(tenths.hypotheses, "", 0.07), whole) == "reject"
    assert verify(Decoded(tenths.hypotheses, "", 0.01), whole) == "talk"


@pytest.mark.parametrize(("rate", "channels"), [(8000, 1), (11_025, 1), (44_100, 2), (48_000, 1)])
def test_other_rates_and_channels(
    recogniser: PocketSphinx, tmp_path: Path, rate: int, channels: int
) -> None:
    path = tmp_path / "call.flac"
    sound = soxr.resample(clip("right plus one") / 32768, RATE, rate)
    soundfile.write(path, np.stack([sound] * channels, axis=1), rate)
    (heard,) = hear(recogniser, read_all(path))
    assert heard.words == "right plus one"
    assert heard.outcome not in TURNED_DOWN


def test_noise_and_silence_are_not_accepted(recogniser: PocketSphinx) -> None:
    chance = np.random.default_rng(4)
    white = (600 * chance.standard_normal(4 * RATE)).astype(np.int16)
    whine = (3000 * np.sin(2 * np.pi * 400 * np.arange(4 * RATE) / RATE)).astype(np.int16)
    for sound in (quiet(3.0), white, whine):
        assert all(heard.outcome in TURNED_DOWN for heard in hear(recogniser, sound))
    assert hear(recogniser, quiet(3.0)) == []


def test_cut_speech_is_not_accepted_as_something_else(recogniser: PocketSphinx) -> None:
    sound = clip("right plus one")
    for part in (0.35, 0.5, 0.65):
        for heard in hear(recogniser, np.concatenate([sound[: int(part * len(sound))], quiet(1)])):
            assert heard.outcome != "accept" or heard.words == "right plus one"


@human
def test_human_talk_is_not_for_us(recogniser: PocketSphinx) -> None:
    """Read prose, playing cards and a robot's command, by people (pocketsphinx-testdata)."""
    names = sorted(TESTDATA.glob("cards/*.wav"))
    assert len(names) == 5
    sounds = [read_all(name) for name in names]
    sounds += [read_all(name)[: 8 * RATE] for name in sorted(TESTDATA.glob("librivox/*.wav"))]
    sounds += [np.fromfile(TESTDATA / f"{name}.raw", "<i2") for name in ("goforward", "something")]
    heard = [one for sound in sounds for one in hear(recogniser, sound)]
    accepted = [one.words for one in heard if one.outcome == "accept"]
    assert len(heard) >= 10
    assert accepted == []


def test_every_word_has_sounds_that_the_dictionary_or_the_project_gives() -> None:
    """Against the CMU dictionary that ships with the recogniser."""
    dictionary = Dictionary()
    words = words_of(sentences(everything(Scale()))) | words_of(sentences(everything(Scale("mm"))))
    theirs = {word: dictionary.sounds(word) for word in words}
    for word in words:
        if word not in PRONUNCIATIONS:
            assert theirs[word], word
    dictionary.teach(words)
    for word in words:
        assert set(theirs[word]) <= set(dictionary.sounds(word))
        assert set(PRONUNCIATIONS.get(word, ())) <= set(dictionary.sounds(word))


def test_a_word_without_sounds_is_a_named_error() -> None:
    dictionary = Dictionary()
    with pytest.raises(RecogniserError, match="zzyzzx"):
        dictionary.teach(["zzyzzx"])


def test_an_unarmed_recogniser_says_so(recogniser: PocketSphinx) -> None:
    with pytest.raises(RecogniserError, match="listen for"):
        PocketSphinx().decode(quiet(1.0))
    recogniser.arm(SWEEP)
    assert recogniser.decode(quiet(0.05)).hypotheses == ()


def test_no_sentence_means_unclear(recogniser: PocketSphinx) -> None:
    recogniser.arm(Offer(Scale(), ("say again",)))
    heard = hear(recogniser, clip("right plus one"), Offer(Scale(), ("say again",)))
    assert all(one.outcome in TURNED_DOWN for one in heard)
    assert all(isinstance(one.meaning, Command | Unclear) for one in heard)


def test_all_commands_can_be_armed_at_once(recogniser: PocketSphinx) -> None:
    recogniser.arm(Offer(Scale(), COMMANDS, signs=True, shim=True, sizes=40))
    assert recogniser.decode(clip("say again")).hypotheses[0].meaning == Command("say again")


def test_importing_the_ears_starts_nothing() -> None:
    code = (
        "import sys, assistant.devices.ears.fallback.pocketsphinx_ears, assistant.commands.hear; "
        "print('sounddevice' in sys.modules, 'vosk' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]
