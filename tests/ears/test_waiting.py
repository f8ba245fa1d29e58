"""How long the ears wait for more depends on whether more can follow, and loses nothing."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from assistant.devices.ears.endpoint import CHUNK_S, Cut, Endpointer, EndpointRule
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.hearing import Decoded, Ears, Recogniser, Utterance
from assistant.devices.ears.verify import verify
from assistant.devices.ears.voice_activity import CHUNK, NeuralActivity
from assistant.dialogue.messages import Decision
from grammar.meaning import Hypothesis, Meaning, OffScale, Unclear
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.ears.sounds import RATE, Samples, clip_of, quiet, utterances
from tests.ears.test_endpoint import Loud, stream
from tests.ears.untaught import Untaught

OFFER = Offer(Scale(), ("yes", "correction"), readings=True)


class _Told(Untaught):
    """A recogniser that makes the same words of everything."""

    name = "told"

    def __init__(self, words: str) -> None:
        meaning = parse(words, Scale())
        heard = () if isinstance(meaning, Unclear) else (Hypothesis(words, meaning, 1.0),)
        self._decoded = Decoded(heard, words, 1.0)

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        del samples, lead
        return self._decoded


def _waited_s(words: str, outcome: Decision) -> float:
    """From the last voiced sound to the utterance."""

    def judged(decoded: Decoded, cut: Cut) -> Decision:
        del decoded, cut
        return outcome

    ears = Ears(_Told(words), judged, Endpointer(Loud()))
    ears.arm(OFFER)
    assert ears.feed(stream("." * 20 + "#" * 20)) == []
    for count in range(1, 100):
        if ears.feed(stream(".")):
            return count * CHUNK_S
    raise AssertionError("it never ended")


@pytest.mark.parametrize(
    ("words", "outcome", "rule_s"),
    [
        ("yes", "accept", EndpointRule().quick_s),
        ("plus six thou", "accept", EndpointRule().quick_s),
        ("yes", "ask", EndpointRule().final_s),
        ("plus six", "accept", EndpointRule().final_s),
        ("plus six and a half", "accept", EndpointRule().final_s),
        ("correction", "accept", EndpointRule().final_s),
        ("no", "accept", EndpointRule().final_s),
        ("front plus", "reject", EndpointRule().patience_s),
    ],
)
def test_the_wait_depends_on_what_was_said(words: str, outcome: Decision, rule_s: float) -> None:
    """What is not listened for here is "no", and "front plus" is not a sentence."""
    assert rule_s <= _waited_s(words, outcome) < rule_s + CHUNK_S


def test_decoding_begins_before_the_shortest_wait_is_over() -> None:
    rule = EndpointRule()
    assert rule.provisional_s < rule.quick_s < rule.final_s < rule.patience_s


PAUSED = (
    "front plus eight and a half", "left minus nine and a quarter", "minus seven point five",
    "plus three thou", "half a thou", "right minus eleven and three quarters", "say again",
)  # fmt: skip
PAUSES_S = (0.1, 0.2, 0.25)


def _with_a_pause(said: str, pause_s: float) -> Samples:
    """Silence before the part of a count, or before the last word."""
    row = next(row for row in utterances() if row["said"] == said)
    words = [word for word, _, _ in row["words"]]
    place = next((words.index(word) for word in ("and", "point") if word in words), -1)
    around_s = 0.4
    _, begins_s, _ = row["words"][place]
    at = round((begins_s - row["start_s"] + around_s) * RATE)
    sound = clip_of(row, around_s)
    return np.concatenate([sound[:at], quiet(pause_s), sound[at:], quiet(0.6)])


class _Once(Untaught):
    """The recogniser as it hears anybody, who decodes the same sound only once."""

    name = "once"

    def __init__(self, recogniser: PocketSphinx) -> None:
        recogniser.forget()
        recogniser.arm(everything(Scale()))
        self._recogniser = recogniser
        self._known: dict[tuple[bytes, int], Decoded] = {}

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        sound = (samples.tobytes(), lead)
        if sound not in self._known:
            self._known[sound] = self._recogniser.decode(samples, lead)
        return self._known[sound]


def _hear(recogniser: Recogniser, sound: Samples, rule: EndpointRule) -> list[Utterance]:
    ears = Ears(recogniser, verify, Endpointer(NeuralActivity(), rule))
    ears.arm(everything(Scale()))
    heard = [
        one
        for begin in range(0, len(sound), CHUNK)
        for one in ears.feed(sound[begin : begin + CHUNK])
    ]
    return heard + ears.flush()


def _facts(heard: list[Utterance]) -> list[tuple[str, str, Meaning]]:
    return [(one.words, one.outcome, one.meaning) for one in heard]


@pytest.mark.parametrize("said", PAUSED)
def test_a_pause_inside_a_call_is_borne_as_by_ears_that_always_wait(
    recogniser: PocketSphinx, said: str
) -> None:
    rule, ears = EndpointRule(), _Once(recogniser)
    slow = EndpointRule(quick_s=rule.final_s)
    for pause_s in PAUSES_S:
        sound = _with_a_pause(said, pause_s)
        heard = _facts(_hear(ears, sound, rule))
        assert heard == _facts(_hear(ears, sound, slow)), pause_s
        if pause_s <= 0.2:
            assert [meaning for _, _, meaning in heard] == [parse(said, Scale())], pause_s


def test_a_value_is_not_cut_short_by_a_pause(recogniser: PocketSphinx) -> None:
    (heard,) = _hear(recogniser, _with_a_pause(PAUSED[0], 0.25), EndpointRule())
    assert heard.meaning == parse("front plus eight and a half", Scale())
    assert getattr(heard.meaning, "value", None) == Decimal("8.5")


@pytest.mark.parametrize(("ours", "told"), [(0.9, True), (0.05, False)])
def test_numbers_in_talk_are_not_off_this_dial(ours: float, told: bool) -> None:
    beyond = OffScale(Decimal(96), "beyond", True)
    recogniser = _Told("plus six")
    recogniser._decoded = Decoded((Hypothesis("plus ninety six", beyond, 0.9),), "", ours)
    ears = Ears(recogniser, verify, Endpointer(Loud()))
    ears.arm(OFFER)
    (heard,) = [*ears.feed(stream("." * 20 + "#" * 20 + "." * 40)), *ears.flush()]
    assert heard.outcome == ("reject" if told else "talk")
    assert isinstance(heard.meaning, OffScale) == told


def test_what_is_not_finished_is_waited_for_though_it_is_taken() -> None:
    rule = EndpointRule()
    recogniser = _Told("yes")
    recogniser._decoded = replace(recogniser._decoded, unfinished=True)
    ears = Ears(recogniser, lambda _decoded, _cut: "accept", Endpointer(Loud()))
    ears.arm(OFFER)
    assert ears.feed(stream("." * 20 + "#" * 20)) == []
    waited = next(count for count in range(1, 100) if ears.feed(stream(".")))
    assert rule.patience_s <= waited * CHUNK_S < rule.patience_s + CHUNK_S


class _InPieces(Untaught):
    """Told what to make of the first piece, of the second, and of both as one."""

    name = "in pieces"

    def __init__(self, first: str, second: str, both: str) -> None:
        self._said = [first, second, both]

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        del samples, lead
        words = self._said.pop(0)
        meaning = parse(words, Scale())
        heard = () if isinstance(meaning, Unclear) else (Hypothesis(words, meaning, 1.0),)
        return Decoded(heard, words, 1.0 if heard else 0.0)


def _in_pieces(first: str, second: str, both: str, gap: int = 45, length: int = 15) -> Utterance:
    """What is made of the second piece, ``gap`` chunks of silence after the first."""
    ears = Ears(_InPieces(first, second, both), verify, Endpointer(Loud()))
    ears.arm(OFFER)
    pieces = "." * 20 + "#" * length + "." * gap + "#" * 15 + "." * 40
    *_, last = [*ears.feed(stream(pieces)), *ears.flush()]
    return last


def test_a_call_after_what_may_have_been_its_station_is_taken_as_one() -> None:
    heard = _in_pieces("wanda", "plus six", "front plus six")
    assert (heard.outcome, heard.words) == ("accept", "front plus six")


@pytest.mark.parametrize("both", ["plus six", "front plus five", "minus six", "yes", "nothing"])
def test_a_call_after_what_was_not_understood_is_asked(both: str) -> None:
    """Together they name no station for that number: the station may have been any."""
    heard = _in_pieces("wanda", "plus six", both)
    assert (heard.outcome, heard.words) == ("ask", "plus six")


def test_a_digit_after_a_number_that_was_asked_is_no_reading_of_its_own() -> None:
    """Right two ... zero: the answer to a question comes after its words, so never this soon."""
    for length in (15, 50):
        heard = _in_pieces("right two", "zero", "right two zero", gap=15, length=length)
        assert (heard.outcome, heard.words) == ("ask", "zero")
    assert _in_pieces("yes", "zero", "yes", gap=15).outcome == "accept"


def test_what_is_too_long_for_a_station_is_none() -> None:
    heard = _in_pieces("a sentence of talk", "plus six", "front plus six", length=50)
    assert (heard.outcome, heard.words) == ("accept", "plus six")


def test_what_was_not_understood_long_before_is_no_station() -> None:
    heard = _in_pieces("wanda", "plus six", "front plus six", gap=100)
    assert (heard.outcome, heard.words) == ("accept", "plus six")


def test_what_names_its_station_or_is_no_reading_needs_no_other_piece() -> None:
    assert _in_pieces("wanda", "left plus six", "front plus six").words == "left plus six"
    assert _in_pieces("wanda", "yes", "front plus six").outcome == "accept"
    assert _in_pieces("minus six", "plus six", "front plus six").words == "plus six"
