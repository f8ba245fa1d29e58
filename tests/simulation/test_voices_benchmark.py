"""The benchmark of voices: how texts are compared, and one voice measured by the recogniser."""

import numpy as np
import pytest

from assistant.devices.ears.neural import model_files
from tests.benchmarks import voices
from tests.benchmarks.voices import Row, heading, line, measured, plain, wrong_words


def test_numbers_and_marks_compare_as_words() -> None:
    assert plain("Plus fifteen, and a half!") == plain("plus 15 a half")
    assert plain("Sweep 10 inches") == plain("Sweep ten inches.")
    assert plain("2.5 millimeters") == plain("two point five millimetres")
    assert plain("fifteen") != plain("fifty")


@pytest.mark.parametrize(
    ("said", "heard", "wrong"),
    [("a b c", "a b c", 0), ("a b c", "a x c", 1), ("a b c", "", 3), ("a", "b a c d", 3)],
)
def test_wrong_words_is_the_edit_distance(said: str, heard: str, wrong: int) -> None:
    assert wrong_words(said.split(), heard.split()) == wrong


def test_the_golden_prompts_are_found_and_thinned() -> None:
    assert len(voices.prompts(1)) > 150
    assert len(voices.prompts(10)) < len(voices.prompts(5)) < len(voices.prompts(1))


@pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not())
def test_the_neural_recogniser_writes_down_what_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(voices, "CONDITIONS", (None, ("white", -15.0)))
    espeak = dict(voices.voices())["espeak-ng en-us 165"]
    row = measured("one", espeak, ["Hold the table now."], voices.dictation())
    quiet, drowned = row.errors
    assert quiet <= 25.0 < drowned
    assert 60 < row.words_per_minute < 220


def test_a_row_without_estoi_is_a_line_all_the_same() -> None:
    none = (None,) * len(voices.CONDITIONS)
    row = Row("some voice", tuple(map(float, range(len(none)))), none, 140.0, 0.1)
    assert len(line(row)) >= len(heading()) - 8
    assert voices.estoi(np.zeros(10), np.zeros(10)) is None
