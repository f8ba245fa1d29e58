"""The wording of every prompt: reviewed in one golden list, short, plain, and parsed again."""

import re
from decimal import Decimal
from pathlib import Path

import pocketsphinx
import pytest

from assistant.dialogue import pending, wording
from assistant.dialogue.formatting import amount
from assistant.dialogue.procedures import sweep
from grammar.meaning import Reading
from grammar.numerals import number_value, number_words
from grammar.parse import parse
from grammar.scale import Scale
from grammar.vocabulary import STATIONS
from tests.dialogue.prompt_list import (
    GOLDEN,
    PARTS,
    SAMPLES,
    constants,
    functions,
    golden_text,
    listed,
)

SPOKEN = [text for name, text in listed() if name not in PARTS]

QUARTERS = Scale("thou", 30, Decimal("0.25"))

VALUES = [Decimal(count) / 4 for count in range(-120, 121)]


def test_the_golden_list_is_what_is_said() -> None:
    kept = GOLDEN.read_text(encoding="utf-8")
    assert golden_text() == kept, (
        "read the difference, then run: python -m tests.dialogue.prompt_list"
    )


def test_every_prompt_is_in_the_list() -> None:
    names = {name for name, _ in listed()}
    assert set(functions()) | set(constants()) == names | PARTS
    assert set(SAMPLES) <= set(functions())


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z']+", text.lower())


def test_prompts_are_short() -> None:
    # Help is a list by nature, and only spoken on demand.
    helps = {*PARTS, "wording.can_say", "wording.can_press"}
    lengths = [len(_words(text)) for name, text in listed() if name not in helps]
    assert max(lengths) <= 19
    assert sum(length <= 8 for length in lengths) >= 0.8 * len(lengths)


NUMERALS = {word for count in range(1000) for word in number_words(Decimal(count)).split()}

RESULTS = {
    "wording.plus_or_minus", "wording.leans", "wording.leans_under", "wording.status",
    "wording.high_side", "wording.axis_inside_noise", "wording.BOTH_INSIDE_NOISE",
    "wording.not_as_expected", "wishes.off", "noise.settled", "pending.go_on",
    "last_time.last_time", "close.closed", "close.within", "close.NOT_WORTH_CHASING", "form.warp",
    "shim.SEIZED_FRONT", "tap.SEIZED_SIDES", "touch.closed", "touch.FINE_ENOUGH",
}  # fmt: skip
"""What was found, and no order or question: it may take more words, but no more breaths."""

NUMBER = {"plus", "minus", "half", "point", *NUMERALS}
"""Words of a called number."""


def _counted(sentence: str) -> int:
    """Words, a number counted as one: "minus three and a half" is a single thing to hear."""
    words = _words(sentence.replace("and a half", "half"))
    return sum(
        word not in NUMBER or place == 0 or words[place - 1] not in NUMBER
        for place, word in enumerate(words)
    )


def test_no_sentence_is_longer_than_a_breath() -> None:
    """At most eight words, a number counted as one; a result at most three sentences."""
    for name, text in listed():
        sentences = re.findall(r"[^.?]+[.?]?", text)
        # Behind what helps stands a list of words or keys, which is only spoken on demand.
        lists = name in ("wording.can_say", "wording.can_press")
        for sentence in sentences[:-1] if lists else sentences:
            assert _counted(sentence) <= 8 or name in RESULTS, f"{name}: {sentence}"
        assert len(sentences) <= 3 or name not in RESULTS, f"{name}: {text}"


@pytest.fixture(scope="module")
def english() -> set[str]:
    """The words of the CMU pronouncing dictionary, as the recogniser's package has it."""
    path = Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"))
    lines = path.read_text(encoding="utf-8").splitlines()
    return {line.split()[0].split("(")[0] for line in lines if line}


def test_prompts_are_plain_words_that_a_voice_can_say(english: set[str]) -> None:
    # Trade words and spellings that a general dictionary lacks.
    ours = {"zeroed", "unplugged", "preloaded", "millimetres", "hundredths", "keypad", "shim"}
    ours |= {"runout"}
    for text in SPOKEN:
        assert re.fullmatch(r"[A-Za-z ,.:?'-]+", text), text
        for word in _words(text):
            assert word in english or word in ours, f"{word} in: {text}"


def test_prompts_are_sentences() -> None:
    for text in SPOKEN:
        assert text[0].isupper(), text
        assert text[-1] in ".?", text


@pytest.mark.parametrize("station", STATIONS)
def test_read_backs_mean_what_was_taken(station: str) -> None:
    place = next(name for name in STATIONS if name == station)
    for value in VALUES:
        for text in (
            wording.reading(place, value),
            sweep.corrected(place, value).replace(" now ", " "),
            pending.ask_reading(place, value),
        ):
            heard = parse(text.rstrip(".?").lower(), QUARTERS)
            assert heard == Reading(value, True, place), text


def test_both_ways_of_a_doubted_reading_can_be_called_as_they_are_asked() -> None:
    text = sweep.which("left", Decimal(15), Decimal(50)).lower().rstrip("?")
    first, other = text.removeprefix("left: ").split(", or ")
    assert parse(first, Scale("thou", 99)) == Reading(Decimal(15), True)
    assert parse(other, Scale("thou", 99)) == Reading(Decimal(50), True)


def test_computed_amounts_are_numbers_of_the_language() -> None:
    step = Decimal("0.5")
    for value in (0.0, 0.24, 0.26, 0.75, 3.26, 14.49, 99.8, 104.2, 1499.9):
        said = number_value(amount(value, step))
        assert said is not None
        assert abs(float(said) - value) <= 0.25
        assert said % step == 0
