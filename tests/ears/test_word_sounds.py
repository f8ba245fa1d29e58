"""A word said alone is checked by its sound as well, whatever would rather be written."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pytest

from assistant.devices.ears.neural import model_files
from grammar.offer import everything
from grammar.scale import Scale
from tests.ears.sounds import clip

pytestmark = pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not() or "-")

if not model_files.why_not():
    from assistant.devices.ears.neural.evidence import Evidence
    from assistant.devices.ears.neural.gates import (
        WORD_LIMITS,
        gates_of,
        judged,
        known_word_features,
        sort_of,
        talk_features,
        value_features,
    )
    from assistant.devices.ears.neural.word_sounds import AFTER, BEFORE, WordSounds, profile
    from tests.benchmarks.hearing_clips import fold_of
    from tests.benchmarks.hearing_words import SAID_BY, Word, known_words, sounds_of_others

if TYPE_CHECKING:
    from assistant.devices.ears.neural.neural_ears import Neural

ALL = everything(Scale("thou", 99))


def _heard(neural: "Neural", said: str) -> "Evidence":
    neural.arm(ALL)
    found = neural.decode(clip(said)).told
    assert isinstance(found, Evidence)
    return found


def test_a_profile_is_of_the_voice_alone_part_by_part() -> None:
    voice = np.repeat(np.arange(8, dtype=np.float32), 2)
    around = [np.full(count, 99.0, np.float32) for count in (BEFORE, AFTER)]
    found = profile(np.concatenate([around[0], voice, around[1]])[:, None])
    assert found.tolist() == pytest.approx([1.0, 0.5, 2.5, 4.5, 6.5, float(np.std(voice))])


def test_the_shortest_sound_has_a_profile(neural: "Neural") -> None:
    shortest = neural._encoded(np.zeros(1600, np.float32)).vectors[0]
    assert np.all(np.isfinite(profile(shortest)))


@pytest.mark.parametrize("said", ["stop", "yes", "no"])
def test_a_word_sounds_most_like_itself(neural: "Neural", said: str) -> None:
    likeness = _heard(neural, said).likeness
    assert max(likeness, key=lambda word: likeness[word]) == said


def test_the_sound_is_looked_at_as_it_came_in(
    neural: "Neural", monkeypatch: pytest.MonkeyPatch
) -> None:
    plain = _heard(neural, "stop")
    monkeypatch.setattr("assistant.devices.ears.neural.adapter.SPOILT", -1e9)
    adapted = _heard(neural, "stop")
    assert (plain.spoilt, adapted.spoilt) == (False, True)
    assert adapted.best.score != plain.best.score
    assert adapted.likeness == plain.likeness


def test_a_word_that_does_not_sound_like_itself_is_not_accepted(neural: "Neural") -> None:
    heard = _heard(neural, "stop")
    other = {**heard.likeness, "stop": heard.likeness["no"], "no": heard.likeness["stop"]}
    sure, unsure = (judged(replace(heard, likeness=each), ALL) for each in (heard.likeness, other))
    assert sure.limits == unsure.limits == WORD_LIMITS
    assert unsure.ours < WORD_LIMITS.ours < sure.ours
    assert unsure.hypotheses[0].confidence < sure.hypotheses[0].confidence


def test_only_a_known_word_is_judged_by_its_sound(neural: "Neural") -> None:
    known, word, call = (_heard(neural, said) for said in ("stop", "skip", "right plus one"))
    found = [sort_of(each) for each in (known, word, replace(word, spoilt=True), call)]
    assert found == ["known word", "word", "adapted word", "sentence"]
    assert gates_of(known).talk.features(known) == known_word_features(known)
    for each in (word, call):
        assert gates_of(each).talk.features(each) == talk_features(each)
    assert judged(word, ALL) == judged(replace(word, likeness={}), ALL)


def test_a_word_is_set_against_the_others_that_it_may_be(neural: "Neural") -> None:
    likeness = {"stop": 0.75, "no": 0.25, "yes": -0.5}
    heard = replace(_heard(neural, "stop"), likeness=likeness, spoilt=True)
    assert known_word_features(heard) == (*talk_features(heard), 0.75, 0.5, 0.5, 1.0)
    sounds = gates_of(heard).value.features(heard)
    assert sounds == (*value_features(heard), 0.75, 0.5, 0.5)


def _word(voice: str, said: str, place: int, chance: np.random.Generator) -> "Word":
    heard = chance.normal(7.0, 0.3, 6).astype(np.float32)
    heard[0] = 1.0
    heard[place] += 2.0
    return Word(voice, synthetic=voice.startswith("made"), said=said, profile=heard)


def _words() -> "list[Word]":
    """Three words of many people, talk, and a word that only programs said."""
    chance = np.random.default_rng(5)
    found = []
    for number in range(60):
        for place, said in enumerate(("bed", "fig", "hut", ""), start=1):
            found.append(_word(f"person {number}", said, place, chance))
        found.append(_word(f"made {number}", "jar", 5, chance))
    return found


def test_words_are_known_that_enough_people_said() -> None:
    words = _words()
    assert known_words(words) == ("bed", "fig", "hut")
    few = [word for word in words if int(word.voice.split()[1]) < SAID_BY - 1]
    assert known_words(few) == ()
    chance = np.random.default_rng(6)
    phrases = [_word(f"person {number}", "bed fig", 1, chance) for number in range(60)]
    assert known_words(phrases) == ()


def _most_like(sounds: "WordSounds", heard: npt.NDArray[np.float32]) -> str:
    likeness = sounds.likeness(heard)
    best = max(likeness, key=lambda word: likeness[word])
    return best if likeness[best] > 0.5 else ""


def test_the_fit_tells_words_and_talk_by_voices_that_it_did_not_hear() -> None:
    words = _words()
    *folds, every = sounds_of_others(words)
    for sounds in (*folds, every):
        told = [_most_like(sounds, word.profile) == word.said.replace("jar", "") for word in words]
        assert np.mean(told) > 0.95


def test_a_fold_is_fitted_without_its_own_voices() -> None:
    words = _words()
    *before, _ = sounds_of_others(words)
    first = fold_of(words[0].voice)
    odd = [replace(word, said="") if fold_of(word.voice) == first else word for word in words]
    *after, _ = sounds_of_others(odd)
    same = [
        np.array_equal(one.weights, two.weights) for one, two in zip(before, after, strict=True)
    ]
    assert same == [fold == first for fold in range(5)]
