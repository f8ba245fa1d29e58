"""Whether a sentence can go on, against every sentence of small offers written out."""

import doctest
import itertools
from collections.abc import Iterator
from decimal import Decimal

import pytest

import grammar.ending
from grammar.ending import is_over
from grammar.offer import Offer
from grammar.scale import Scale
from grammar.sentences import Alt, Node, Opt, Seq, sentences, words_of

SMALL = Scale("thou", 3, Decimal("0.5"))
OFFERS = (
    Offer(SMALL, ("yes", "no", "say again", "stand by")),
    Offer(SMALL, ("correction", "next"), readings=True, stations=False),
    Offer(SMALL, ("zeroed",), signs=True, sides=True),
    Offer(Scale("mm", 2, Decimal(1)), ("done",), readings=True),
    Offer(Scale("thou", 12, Decimal(1)), readings=True, stations=False, signed=False, turn=12),
    Offer(SMALL, ("skip",), shim=True),
    Offer(SMALL, sizes=40),
)


def _written_out(node: Node) -> Iterator[tuple[str, ...]]:
    """Every sentence of a tree."""
    match node:
        case str():
            yield tuple(node.split())
        case Seq(parts=parts):
            for each in itertools.product(*(list(_written_out(part)) for part in parts)):
                yield tuple(itertools.chain(*each))
        case Alt(choices=choices):
            for choice in choices:
                yield from _written_out(choice)
        case Opt(part=part):
            yield ()
            yield from _written_out(part)


@pytest.mark.parametrize("offer", OFFERS, ids=str)
def test_a_sentence_is_over_when_no_other_begins_with_it(offer: Offer) -> None:
    written = set(_written_out(sentences(offer)))
    begun = {sentence[:length] for sentence in written for length in range(len(sentence))}
    assert len(written) > 3
    for sentence in written | begun:
        over = sentence in written and sentence not in begun
        assert is_over(" ".join(sentence), offer) == over, sentence


@pytest.mark.parametrize("offer", OFFERS, ids=str)
def test_what_is_no_sentence_is_not_over(offer: Offer) -> None:
    written = set(_written_out(sentences(offer)))
    words = [*sorted(words_of(sentences(offer))), "weather"]
    others = {(one, other) for one in words for other in words} - written
    assert others
    assert not any(is_over(" ".join(each), offer) for each in others)
    assert not is_over("", offer)


@pytest.mark.parametrize(
    ("words", "over"),
    [
        ("yes", True),
        ("say again", True),
        ("correction", False),
        ("front plus six", False),
        ("front plus six and a half", False),
        ("front plus six thou", True),
        ("plus three tenths", True),
        ("plus twenty", False),
    ],
)
def test_at_a_dial_with_everything(words: str, over: bool) -> None:
    offer = Offer(Scale(), ("yes", "say again", "correction"), readings=True)
    assert is_over(words, offer) == over


def test_a_number_that_may_be_begun_digit_by_digit_goes_on() -> None:
    plain = Offer(Scale("thou", 9, Decimal(1)), readings=True, signed=False, turn=10)
    assert not is_over("three", plain)
    assert is_over("three thou", plain)


def test_the_examples_in_the_docstrings() -> None:
    result = doctest.testmod(grammar.ending)
    assert result.attempted
    assert not result.failed
