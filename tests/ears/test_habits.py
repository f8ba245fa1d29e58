"""What is usual for a person is no doubt: the habits, and which calls they are made of."""

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from assistant.devices.ears.endpoint import CHUNK_S, Cut, Endpointer, EndpointRule
from assistant.devices.ears.fallback.acoustics.habits import (
    CERTAIN,
    KEPT,
    MOST,
    PERSON,
    REMEMBERED,
    REST,
    REST_ALONE,
    USUAL,
    USUAL_ALONE,
    WORD,
    Habits,
    habits_from,
)
from assistant.devices.ears.hearing import SOON_S, Decoded, Ears, heard_event
from assistant.devices.ears.verify import verify
from assistant.dialogue.messages import Decision
from grammar.meaning import Hypothesis
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.ears.test_endpoint import Loud, stream
from tests.ears.untaught import Untaught


def chance(odds: float) -> float:
    return float(1 / (1 + np.exp(-odds)))


def odds(of: float) -> float:
    return float(np.log(of / (1 - of)))


def habits(*calls: tuple[str, float]) -> Habits:
    known = Habits()
    for words, known_odds in calls:
        known = known.after(words, chance(known_odds))
    return known


def test_of_a_stranger_nothing_is_usual() -> None:
    assert Habits().weighed("yes", 0.3) == 0.3


def test_a_call_is_weighed_as_the_joint_density_says() -> None:
    # Against scipy's multivariate normal: the density of all calls together over that of the
    # earlier ones, less what it would be by itself.
    calls = [("yes", 1.0), ("done", 3.5), ("yes", 0.4), ("plus six", 6.0)]
    for words, now in (("yes", 0.3), ("done", 1.0), ("stop", 1.6), ("back zero", 3.0)):
        said = [word for word, _ in calls] + [words]
        seen = [known for _, known in calls] + [now]
        alike = np.array([[float(one == other) for other in said] for one in said])
        rest = np.array([REST if " " in word else REST_ALONE for word in said])
        spread = PERSON**2 + WORD**2 * alike + np.diag(rest**2)
        usual = [USUAL if " " in word else USUAL_ALONE for word in said]
        together = scipy.stats.multivariate_normal(usual, spread)
        before = scipy.stats.multivariate_normal(usual[:-1], spread[:-1, :-1])
        alone = scipy.stats.norm(usual[-1], np.sqrt(spread[-1, -1]))
        moved = together.logpdf(seen) - before.logpdf(seen[:-1]) - alone.logpdf(now)
        assert abs(moved) < MOST
        weighed = habits(*calls).weighed(words, chance(now))
        assert odds(weighed) == pytest.approx(now + moved, abs=1e-6)


@given(
    st.lists(st.tuples(st.sampled_from(["yes", "no", "done"]), st.floats(-6, 9)), max_size=12),
    st.sampled_from(["yes", "stop"]), st.floats(-9, 9), st.floats(0.01, 3),
)  # fmt: skip
def test_clearer_is_never_less_sure(
    calls: list[tuple[str, float]], words: str, now: float, more: float
) -> None:
    known = habits(*calls)
    less, better = known.weighed(words, chance(now)), known.weighed(words, chance(now + more))
    assert less <= better + 1e-9
    assert abs(odds(less) - now) <= MOST + 1e-6


def test_a_word_that_is_always_said_so_is_taken_and_another_is_not() -> None:
    known = habits(*[("affirm", 1.8), ("locked", 3.0)] * 4)
    assert chance(1.7) < 0.94 < known.weighed("affirm", chance(1.7))
    assert known.weighed("affirm", chance(-2.5)) < chance(-2.5)
    assert known.weighed("affirm", chance(1.7)) > known.weighed("stop", chance(1.7))


def test_whose_words_are_all_far_off_is_helped_with_a_new_one() -> None:
    known = habits(*[(word, 0.5) for word in ("yes", "done", "locked", "stop") * 2])
    assert known.weighed("next", chance(1.0)) > chance(1.0)


def test_who_is_always_clear_is_doubted_when_not() -> None:
    assert habits(*[("skip", 6.0)] * 6).weighed("skip", chance(2.0)) < chance(1.0)


def test_only_the_last_calls_count_and_fewer_another_time() -> None:
    known = habits(*[("yes", 1.0)] * 5, *[("yes", 5.0)] * REMEMBERED)
    assert known == habits(*[("yes", 5.0)] * REMEMBERED)
    assert known.for_another_time() == habits(*[("yes", 5.0)] * KEPT)


def test_habits_come_back_from_plain_numbers() -> None:
    known = habits(("yes", 1.0), ("say again", 80.0))
    assert habits_from(known.as_plain()) == known
    assert known.calls[-1][1] == CERTAIN


@pytest.mark.parametrize(
    "plain", [None, 3, "yes", [1], [["yes"]], [["yes", "2"]], [["yes", 99.0]],
              [["yes", float("nan")]], [[1, 2.0]], {"yes": 2.0}]
)  # fmt: skip
def test_anything_else_is_refused(plain: object) -> None:
    with pytest.raises(ValueError, match="calls are not words"):
        habits_from(plain)


class _Script(Untaught):
    """A recogniser that hears what it is told to, and notes what is learnt."""

    name = "script"

    def __init__(self) -> None:
        self.next = Decoded((), "", 0.0)
        self.learnt: list[str] = []

    def decode(self, samples: object, lead: int = 0) -> Decoded:
        del samples, lead
        return self.next

    def learn(self, decoded: Decoded) -> None:
        self.learnt.append(decoded.words)


@pytest.mark.parametrize(
    ("outcome", "sure", "learnt"),
    [("accept", 0.95, True), ("ask", 0.6, True), ("ask", 0.4, False), ("reject", 0.9, False)],
)
def test_a_voice_is_learnt_from_what_is_likely_right(
    outcome: Decision, sure: float, learnt: bool
) -> None:
    script = _Script()
    script.next = Decoded((Hypothesis("yes", parse("yes", Scale()), 1.0),), "yes", sure)

    def judged(decoded: Decoded, cut: Cut) -> Decision:
        del decoded, cut
        return outcome

    ears = Ears(script, judged, Endpointer(Loud()))
    ears.arm(everything(Scale()))
    # Talk is waited for longest; some more is silent beyond that.
    silence = "." * round((EndpointRule().patience_s + 0.3) / CHUNK_S)
    assert ears.feed(stream("#" * 20 + silence))
    assert script.learnt == ["yes"] * learnt


def test_what_comes_after_a_quiet_while_is_told_as_such() -> None:
    script = _Script()
    ears = Ears(script, verify, Endpointer(Loud()))
    ears.arm(everything(Scale()))
    script.next = Decoded((), "what they said to each other", 0.0)
    found = []
    for quiet_s in (1.0, SOON_S + 1, 1.0, SOON_S - 3, SOON_S + 2):
        for one in ears.feed(stream("." * round(quiet_s / CHUNK_S) + "#" * 20 + "." * 45)):
            event = heard_event(one, "", 1)
            found.append((event.outcome, event.words, event.after_quiet))
    assert found == [("talk", "", quiet) for quiet in (False, True, False, False, True)]


def test_who_presses_the_key_to_talk_talks_to_us() -> None:
    script = _Script()
    ears = Ears(script, verify)
    ears.arm(everything(Scale()))
    script.next = Decoded((), "", 0.0)
    assert ears.whole(stream("." * 20 + "#" * 20)).outcome == "reject"
