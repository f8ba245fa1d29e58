"""What a general recogniser writes comes back as our words; numbers off the dial as such."""

import doctest
import random
from decimal import Decimal

import pytest

import grammar.offer
import grammar.written
from grammar.meaning import Meaning, OffScale, OffScaleReason, Reading, Shim, Unclear
from grammar.numerals import number_value
from grammar.offer import Offer, everything
from grammar.parse import MAX_WORDS, parse
from grammar.scale import Scale
from grammar.sentences import Node
from grammar.vocabulary import BY_NAME, TABLE, WRITTEN
from grammar.written import (
    GLUED,
    as_spoken,
    beginnings,
    figures,
    spoken_number,
    wide_sentences,
)
from tests.grammar.languages import sample

INCH = Scale("thou", 30, Decimal("0.5"))


def text_of(node: Node, chance: random.Random) -> str:
    """A sentence of a tree as it would be written."""
    return sample(node, chance).replace(f" {GLUED}", "").replace(GLUED, "")


@pytest.mark.parametrize(
    ("written", "spoken"),
    [
        ("Left, +6.5 though.", "left plus 6.5 thou"),
        ("Front minus twenty-three.", "front minus twenty three"),
        ("-12", "minus twelve"),
        ("Right -0.5!", "right minus 0.5"),
        ("Plus 6 and a half.", "plus six and a half"),
        ("Back plus 3 point 25", "back plus three point two five"),
        ("1 5", "one five"),
        ("07", "zero seven"),
        ("Minus 30,000.", "minus thirty thousandths"),
        ("Write plus ate.", "right plus eight"),
        ("Know.", "no"),
        ("A firm.", "affirm"),
        ("Say again?", "say again"),
        ("He left two for me", "he left two four me"),
        ("", ""),
    ],
)
def test_what_is_written_becomes_our_words(written: str, spoken: str) -> None:
    assert as_spoken(written) == spoken


def test_our_own_words_stay_as_they_are() -> None:
    for term in TABLE:
        for phrase in term.says:
            assert as_spoken(phrase) == phrase
            assert as_spoken(f"{phrase.capitalize()}.") == phrase


def test_no_spelling_is_a_word_of_ours_or_stands_for_two() -> None:
    others = [other for others in WRITTEN.values() for other in others]
    words = {word for term in TABLE for phrase in term.says for word in phrase.split()}
    assert not words & set(others)
    assert len(others) == len(set(others))


def test_every_number_of_the_wide_tree_is_one() -> None:
    chance = random.Random(1)
    for reach in (30, 250):
        for _ in range(2000):
            words = text_of(spoken_number(reach), chance)
            value = number_value(words)
            assert value is not None, words
            assert reach > 100 or value < 200
    for start in ("", GLUED):
        for _ in range(2000):
            text = text_of(figures(30, start), chance)
            spoken = as_spoken(text)
            meaning = parse(spoken, Scale(reach=999, step=Decimal("0.01")))
            assert isinstance(meaning, Reading), text
            if text.replace(".", "").isdigit():
                assert meaning.value == Decimal(text), text


@pytest.mark.parametrize(
    "offer",
    [
        everything(INCH),
        everything(Scale("mm", 40, Decimal(1))),
        Offer(INCH, ("correction", "next"), readings=True),
        Offer(INCH, readings=True, stations=False, signed=False),
        Offer(INCH, ("yes",), readings=True, signed=False, turn=100, stations=False),
        Offer(INCH, ("yes", "no"), sizes=600),
    ],
)
def test_every_sentence_of_the_wide_tree_means_something_here(offer: Offer) -> None:
    chance = random.Random(2)
    tree = wide_sentences(offer)
    off = 0
    for _ in range(1500):
        text = text_of(tree, chance)
        if len(as_spoken(text).split()) > MAX_WORDS:
            continue
        meaning = offer.taken(parse(as_spoken(text), offer.scale))
        assert not isinstance(meaning, Unclear), text
        off += isinstance(meaning, OffScale)
        if not isinstance(meaning, Shim) and not offer.sizes:
            assert offer.allows(meaning) or _tenths(meaning), text
    assert (off > 100) == offer.readings


def _tenths(meaning: Meaning) -> bool:
    return isinstance(meaning, Reading) and meaning.doubtful_unit


@pytest.mark.parametrize("reach", [5, 15, 30, 50])
@pytest.mark.parametrize("step", ["1", "0.5", "0.25", "0.1"])
def test_a_number_is_off_the_scale_just_where_the_dial_does_not_show_it(
    reach: int, step: str
) -> None:
    scale = Scale("thou", reach, Decimal(step))
    offer = Offer(scale, readings=True)
    for twentieths in range(-130 * 20, 130 * 20 + 1):
        value = Decimal(twentieths) / 20
        called = Reading(value, signed=True, station="left")
        meant = offer.taken(called)
        if scale.shows(value):
            assert meant == called
            continue
        reason: OffScaleReason = "beyond" if abs(value) > reach else "finer"
        assert meant == OffScale(value, reason, True, "left")
        assert offer.allows(meant)


def test_what_is_not_listened_for_is_not_off_the_scale() -> None:
    called = Reading(Decimal("60"), signed=True, station="left")
    assert Offer(INCH, ("yes",)).taken(called) == called
    assert Offer(INCH, readings=True, stations=False).taken(called) == called
    assert Offer(INCH, readings=True, signed=False).taken(called) == called
    assert not Offer(INCH, ("yes",)).allows(OffScale(Decimal(60), "beyond", True))


def test_a_face_of_one_turn_ends_where_it_begins_anew() -> None:
    offer = Offer(INCH, readings=True, signed=False, turn=100)
    assert offer.taken(Reading(Decimal(99), signed=False)) == Reading(Decimal(99), signed=False)
    assert offer.taken(Reading(Decimal(100), signed=False)) == OffScale(
        Decimal(100), "beyond", False
    )


def test_a_beginning_is_no_sentence() -> None:
    for offer in (everything(INCH), Offer(INCH, readings=True, stations=False)):
        tree = beginnings(offer)
        assert tree is not None
        chance = random.Random(3)
        for _ in range(200):
            words = sample(tree, chance)
            assert not offer.allows(offer.taken(parse(words, INCH))), words
    assert beginnings(Offer(INCH, ("yes",))) is None
    assert beginnings(Offer(INCH, readings=True, stations=False, signed=False)) is None
    assert BY_NAME["left"].says[0] in sample_all(everything(INCH))


def sample_all(offer: Offer) -> set[str]:
    """Many of the beginnings of an offer."""
    tree = beginnings(offer)
    assert tree is not None
    return {sample(tree, random.Random(seed)) for seed in range(100)}


@pytest.mark.parametrize("module", [grammar.offer, grammar.written])
def test_examples_in_docstrings(module: object) -> None:
    result = doctest.testmod(module)  # type: ignore[arg-type]
    assert result.attempted
    assert not result.failed
