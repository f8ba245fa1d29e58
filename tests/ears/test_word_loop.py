"""The loop of common words: its words, and its score against plain recursion."""

from functools import cache

import numpy as np
import pytest

from assistant.devices.ears.fallback.acoustics.model_files import (
    BEGIN,
    END,
    AcousticModel,
    read_model,
)
from assistant.devices.ears.fallback.acoustics.word_loop import WordLoop
from assistant.devices.ears.fallback.other_words import double_words, talk_words
from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary, model_folder
from tests.benchmarks.fallback_doubles import look_for_doubles


@pytest.fixture(scope="module")
def model() -> AcousticModel:
    return read_model(model_folder())


def test_talk_is_made_of_words_that_do_not_sound_like_ours(model: AcousticModel) -> None:
    """Against the library: "the" is its likeliest word; "for" and "two" sound like numbers."""
    decoder = Dictionary()
    talk = talk_words(decoder)
    assert 1000 < len(talk) < 1500
    said = {" ".join(phones) for phones, _ in talk}
    assert max(talk, key=lambda row: row[1])[0] in (["DH", "AH"], ["DH", "IY"])
    assert {"W EH L", "P IY P AH L"} <= said
    assert not said & {"F AO R", "T UW", "N OW", "R AY T", "D AH N", "P OY N T"}
    assert all(phone in model.number for phones, _ in talk for phone in phones)
    assert all(chance < 0 for _, chance in talk)


def test_the_listed_doubles_are_those_that_are_found(model: AcousticModel) -> None:
    """As counted by hand: "skit" is one phone from "skip", "stated" two from "status"."""
    doubles = [" ".join(phones) for phones, _ in double_words()]
    assert doubles == look_for_doubles()
    assert {"S K IH T", "N EH S T", "S T EY T IH D", "F ER M", "S T AA K"} <= set(doubles)
    ours = {"S K IH P", "N EH K S T", "S T EY T AH S", "W AH N", "T UW", "B AE K"}
    assert not ours & set(doubles)
    assert all(phone in model.number for phones, _ in double_words() for phone in phones)


def test_the_score_is_that_of_plain_recursion(model: AcousticModel) -> None:
    """Two words of two phones, any of them or silence after another, tried one by one."""
    words = [(("HH", "AY"), -1.0), (("G", "OW"), -2.0)]
    loop = WordLoop(model, words)
    frames = 14
    scores = np.random.default_rng(1).normal(0, 3, (frames, len(model.codebook))).astype(np.float32)
    silence = model.silence

    def chain(phones: tuple[str, ...]) -> list[int]:
        first, last = (model.number[phone] for phone in phones)
        return [
            model.triphone(first, silence, last, BEGIN),
            model.triphone(last, first, silence, END),
        ]

    ways = [(chain(phones), 0.0, chance - 6.0) for phones, chance in words]
    ways.append(([silence], -5.0, 0.0))

    @cache
    def rest(way: int, unit: int, state: int, frame: int) -> float:
        """The best of being in this state at this frame and of all that follows."""
        units, _, after = ways[way]
        here = units[unit]
        moves = model.moves[model.transition[here]]
        got = float(scores[frame, model.states[model.sequence[here], state]])
        last = frame == frames - 1
        options = [] if last else [moves[state, state] + rest(way, unit, state, frame + 1)]
        if state < 2:
            options += (
                [] if last else [moves[state, 1 + state] + rest(way, unit, state + 1, frame + 1)]
            )
        elif unit < len(units) - 1:
            options += [] if last else [moves[2, 3] + rest(way, unit + 1, 0, frame + 1)]
        else:
            options.append(moves[2, 3] + after + root(frame + 1))
        return got + float(max(options, default=-1e30))

    @cache
    def root(frame: int) -> float:
        if frame == frames:
            return 0.0
        return max(ways[way][1] + rest(way, 0, 0, frame) for way in range(len(ways)))

    assert loop.best(scores, loop.states) == pytest.approx(root(0), abs=1e-2)
