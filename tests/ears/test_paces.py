"""The same sound at other paces: texts scored at one go, means, the least margin, length."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from assistant.devices.ears.neural import model_files
from grammar.meaning import Unclear
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.ears.sounds import RATE, clip

pytestmark = pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not() or "-")

if not model_files.why_not():
    from assistant.devices.ears.neural.beam import Text, sentences_only
    from assistant.devices.ears.neural.evidence import (
        FURTHEST,
        Candidate,
        Evidence,
        Loudness,
        at_other_paces,
    )
    from assistant.devices.ears.neural.gates import (
        EVERYDAY,
        LIMITS,
        TALK_WEIGHTS,
        VALUE_WEIGHTS,
        judged,
        length_features,
        talk_features,
        value_features,
    )
    from assistant.devices.ears.neural.neural_ears import AGAIN_MOST, PACES, Neural
    from assistant.devices.ears.neural.tokens import BEGIN, END

ALL = everything(Scale("thou", 99))


def _candidate(words: str, score: float, alone: float) -> "Candidate":
    meaning = ALL.taken(parse(words, ALL.scale))
    return Candidate(words, meaning, score, 4, Text((1, 2), alone))


def _evidence(*candidates: "Candidate", free: str = "", span_s: float = 0.7) -> "Evidence":
    free = free or candidates[0].words
    meant = ALL.taken(parse(free, ALL.scale))
    return Evidence(candidates, free, -1.0, 3, meant, Loudness(span_s, 30.0))


def test_texts_are_scored_at_one_go_as_the_search_scored_them(neural: "Neural") -> None:
    """But for the rounding of a model in 8 bits, which depends on what is in the batch."""
    neural.arm(ALL)
    sound = (clip("right plus one") / 32768).astype(np.float32)
    encoded = neural._encoded(sound)
    _, ready = neural._armed()
    texts = sentences_only(neural._model, encoded, ready.sentences)[:4]
    again = neural._model.scores(encoded, BEGIN, END, [text.tokens for text in texts])
    assert len({len(text.tokens) for text in texts}) > 1
    assert [float(score) for score in again] == pytest.approx(
        [text.score for text in texts], abs=0.8
    )
    (alone,) = neural._model.scores(encoded, BEGIN, END, [texts[0].tokens])
    # Older runtimes round otherwise; a token more or less is two and more.
    assert float(alone) == pytest.approx(texts[0].score, abs=0.5)


def test_scores_are_the_means_over_all_paces() -> None:
    """The score of a meaning moves with that of its likeliest text."""
    found = _evidence(_candidate("plus nine", -2.0, -2.5), _candidate("plus five", -3.0, -3.0))
    heard = at_other_paces(found, [[-5.5, -3.0, -4.0], [-5.5, -3.0, -1.0]])
    assert [one.words for one in heard.candidates] == ["plus five", "plus nine"]
    assert [one.score for one in heard.candidates] == pytest.approx([-3.0, -4.0])
    assert heard.free_score == pytest.approx(-2.0)


def test_the_least_margin_is_that_of_the_pace_that_doubts_most() -> None:
    found = _evidence(_candidate("plus nine", -2.0, -2.0), _candidate("plus five", -6.0, -6.0))
    steady = at_other_paces(found, [[-2.0, -6.0, -1.0], [-3.0, -7.0, -1.0]])
    torn = at_other_paces(found, [[-2.0, -6.0, -1.0], [-4.5, -3.0, -1.0]])
    assert steady.least == pytest.approx(4.0)
    assert torn.best.words == "plus nine"
    assert torn.least == pytest.approx(-1.5)
    assert at_other_paces(_evidence(_candidate("yes", -1, -1)), [[-2, -1]]).least == FURTHEST


def test_what_was_not_heard_again_stays_behind() -> None:
    three = (
        _candidate("plus nine", -2.0, -2.0),
        _candidate("plus five", -3.0, -3.0),
        _candidate("plus one", -3.5, -3.5),
    )
    heard = at_other_paces(_evidence(*three), [[-9.0, -9.0, -1.0], [-9.0, -9.0, -1.0]])
    assert heard.candidates[-1].words == "plus one"
    assert heard.candidates[-1].score <= heard.candidates[1].score


def test_a_voice_longer_than_its_sentence_shows() -> None:
    """A station that was swallowed, a fraction that was dropped."""
    best = _candidate("plus nine", -2.0, -2.0)
    fitting, long = (length_features(_evidence(best, span_s=s)) for s in (0.6, 1.6))
    assert fitting[0] == pytest.approx(0.0, abs=0.2)
    assert long[0] > 0.5
    assert long[1] > fitting[1] == 0.0
    more = length_features(_evidence(best, free="we lost nine of them"))
    assert more[3:] == (3.0, 1.0)


def test_a_sign_without_a_station_is_told_from_one_with() -> None:
    bare, named = (
        _evidence(_candidate(words, -2.0, -2.0), free="blessed nine")
        for words in ("plus nine", "left plus nine")
    )
    assert value_features(bare)[-3:] == (1.0, -1.0, 1.0)
    assert value_features(named)[-3:] == (0.0, 0.0, 0.0)
    assert value_features(replace(bare, free_meaning=bare.best.meaning))[-1] == 0.0


def test_every_feature_has_its_weight() -> None:
    one = _evidence(_candidate("plus nine", -2.0, -2.0))
    assert len(talk_features(one)) == len(TALK_WEIGHTS)
    assert len(value_features(one)) == len(VALUE_WEIGHTS)


def test_talk_is_less_likely_ours_than_a_call() -> None:
    """That is hardly a sentence of ours, and the model would write another."""
    call = _evidence(_candidate("plus nine", -0.5, -0.5))
    talk = replace(
        _evidence(_candidate("plus nine", -14.0, -14.0), free="we must find the key", span_s=1.6),
        free_score=-3.0,
    )
    assert judged(call, ALL).ours >= LIMITS.ours
    assert judged(talk, ALL).ours < LIMITS.ask


def test_a_value_is_less_sure_where_another_is_near() -> None:
    clear = _evidence(_candidate("plus nine", -1.5, -1.5), _candidate("plus five", -13.0, -13.0))
    near = _evidence(
        _candidate("plus nine", -8.0, -8.0),
        _candidate("plus five", -10.5, -10.5),
        free="last time of all",
        span_s=1.5,
    )
    sure, unsure = (
        judged(replace(one, least=one.margin), ALL).hypotheses[0].confidence
        for one in (clear, near)
    )
    assert sure >= LIMITS.right > unsure


def test_a_word_of_every_day_is_no_command() -> None:
    """Where the model would write "go", "no" was hardly said; "gno" is nothing."""
    ours = [
        judged(_evidence(_candidate("no", -3.0, -3.0), free=free, span_s=0.4), ALL).ours
        for free in ("gno", "go")
    ]
    assert ours[1] < ours[0] - 0.05
    meant = [parse(word, ALL.scale) for word in EVERYDAY]
    assert all(isinstance(one, Unclear) for one in meant)


def test_only_what_is_neither_clear_nor_hopeless_is_heard_again(
    neural: "Neural", monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[int] = []
    scores = neural._model.scores

    def counted(*given: Any) -> Any:
        heard.append(len(given[3]))
        return scores(*given)

    monkeypatch.setattr(neural._model, "scores", counted)
    neural.arm(ALL)
    neural.decode(clip("left plus three"))
    assert heard == []
    doubtful = neural.decode(clip("right plus one", "slt"))
    assert len(heard) == len(PACES)
    assert isinstance(doubtful.told, Evidence)
    assert heard[0] == min(AGAIN_MOST, len(doubtful.told.candidates)) + 1
    heard.clear()
    neural.decode(np.random.default_rng(1).integers(-9000, 9000, 2 * RATE).astype(np.int16))
    assert heard == []
