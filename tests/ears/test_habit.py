"""What the model writes of silence, and what is left of a score without it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from assistant.devices.ears.neural import model_files
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale

pytestmark = pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not() or "-")

if not model_files.why_not():
    from assistant.devices.ears.neural.beam import Text
    from assistant.devices.ears.neural.evidence import (
        HABIT_SHARE,
        HABITS_MOST,
        Candidate,
        Evidence,
        Loudness,
        at_other_paces,
        by_habit,
    )
    from assistant.devices.ears.neural.habit import SILENCE, Habit
    from assistant.devices.ears.neural.neural_ears import Neural
    from assistant.devices.ears.neural.tokens import BEGIN, END
    from assistant.devices.ears.neural.transducer import Encoded

    class _Told(Habit):
        """A habit that is told: so usual is each text."""

        def __init__(self, *habits: float) -> None:
            self._habits = habits

        def of(self, texts: Sequence[tuple[int, ...]]) -> list[float]:
            return [self._habits[text[0]] for text in texts]


ALL = everything(Scale("thou", 99))


def test_a_text_is_as_usual_as_the_model_finds_it_in_silence(neural: "Neural") -> None:
    """By the definition, token by token: its share of all that do not end the text there."""
    model, encode = neural._model, neural._tokens.encode
    silence = model.encode(np.zeros(SILENCE, np.float32))
    text = (*encode("Thank you."), *encode("The"))
    logs, memory = model.first(silence, BEGIN)
    expected, ended = 0.0, 0.0
    for token in text:
        end = float(np.exp(logs[0, END]))
        expected += float(logs[0, token]) - float(np.log1p(-end))
        ended += float(logs[0, token])
        logs, memory = model.next([token], memory)
    habit = Habit(model)
    # The model in 8 bits rounds with what else is in the batch; "Thank you." is likely over.
    assert habit.of([text]) == pytest.approx([expected], abs=0.8)
    assert expected > ended + 1.6
    yes, skip = habit.of([encode("Yes."), encode("Skip.")])
    assert yes > skip + 2


def test_a_habit_is_looked_up_once(neural: "Neural", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("assistant.devices.ears.neural.habit.MOST_TEXTS", 2)
    habit, encode = Habit(neural._model), neural._tokens.encode
    one, other, third = (encode(text) for text in ("Left.", "Right.", "Front."))
    first = habit.of([one, one])
    asked: list[tuple[int, ...]] = []
    unended = neural._model.unended

    def counted(silence: "Encoded", begin: int, end: int, text: tuple[int, ...]) -> float:
        asked.append(text)
        return unended(silence, begin, end, text)

    monkeypatch.setattr(neural._model, "unended", counted)
    assert habit.of([one, other, one])[::2] == first
    assert asked == [other]
    habit.of([third, one, other])
    assert asked == [other, third, other]


def _candidates(*scores: float) -> list["Candidate"]:
    meaning = parse("plus nine", ALL.scale)
    return [
        Candidate(f"text {number}", meaning, score, 2, Text((number,), score))
        for number, score in enumerate(scores)
    ]


def test_what_is_written_by_habit_counts_less() -> None:
    rare, usual = -30.0, -10.0
    gain = HABIT_SHARE * (usual - rare)
    for behind, first in ((gain - 0.1, "text 1"), (gain + 0.1, "text 0")):
        found = by_habit(_candidates(-1.0, -1.0 - behind), _Told(usual, rare))
        assert found[0].words == first
        assert [one.score for one in sorted(found, key=lambda one: one.words)] == [
            -1.0, -1.0 - behind
        ]  # fmt: skip
    assert by_habit([], _Told()) == ()


def test_of_those_far_behind_no_habit_is_looked_up() -> None:
    scores = [-1.0 - number for number in range(HABITS_MOST + 2)]
    habits = [-20.0] * (HABITS_MOST - 1) + [-12.0]
    found = by_habit(_candidates(*scores), _Told(*habits))
    assert [one.habit for one in found][-2:] == [-12.0, -12.0]
    assert found[0] == replace(_candidates(*scores)[0], habit=-20.0)


def test_margins_are_between_what_is_left() -> None:
    """At one pace and over all: the rarer text comes first, and the margin is as wide."""
    usual, rare = by_habit(_candidates(-1.0, -2.0), _Told(-10.0, -30.0))[::-1]
    gain = 20 * HABIT_SHARE - 1.0
    nothing = Loudness(0.5, 30.0)
    found = Evidence((rare, usual), "text 1", -1.0, 3, rare.meaning, nothing)
    assert found.margin == pytest.approx(gain)
    assert found.ratio == pytest.approx(-1.0)
    heard = at_other_paces(found, [[-2.0, -1.5, -1.0], [-2.0, -0.5, -1.0]])
    assert heard.best.words == "text 1"
    assert heard.margin == pytest.approx(gain)
    assert heard.least == pytest.approx(gain - 0.5)
