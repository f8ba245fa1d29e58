"""The simulated person: words of the language, truthful answers, no wrong read-back let pass."""

import random
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue import pending, wording
from assistant.dialogue.messages import Step
from assistant.dialogue.procedures import setup
from assistant.simulation.bench import Bench, Machine, profile_for
from assistant.simulation.caller import Operator, OperatorStuck
from assistant.simulation.cues import Question
from assistant.simulation.wording import EVERYDAY, Manner, call, read_back
from grammar.meaning import Reading, Shim
from grammar.offer import Offer
from grammar.parse import parse
from grammar.scale import Scale
from grammar.sentences import sentences
from grammar.vocabulary import STATIONS, Station
from tests.grammar.languages import accepts
from tests.simulation.json_lines import step_from_json

ALWAYS = Manner(
    name_station=1.0, digitwise=1.0, point=1.0, unit=1.0, affirm=1.0, bare=0.0, shim_called=1.0
)

SWEEPING = ("correction", "disregard", "say again", "status", "help", "stand by", "stop")


def _person(front: float = 6.0, right: float = 0.0, manner: Manner | None = None) -> Operator:
    profile = profile_for()
    bench = Bench(Machine(profile.scale, front, right))
    return Operator(bench, profile, random.Random(1), manner)


def _sweeping(person: Operator) -> Operator:
    """Brought to the first call of a sweep."""
    person.answer(Question("lock", None, ("locked", "settle")))
    person.answer(Question("zero", None, ("zeroed", "disregard")))
    return person


def _asked(person: Operator, prompt: str, station: Station | None = "front") -> str:
    person.hear(prompt)
    return person.answer(Question("sweep", station, SWEEPING))


@given(
    st.integers(-60, 60),
    st.sampled_from(STATIONS),
    st.sampled_from([Manner(), EVERYDAY, ALWAYS, replace(ALWAYS, bare=1.0)]),
    st.booleans(),
    st.integers(0, 1000),
)
def test_every_call_is_a_sentence_of_the_language_and_means_what_the_dial_shows(
    halves: int, station: Station, manner: Manner, named: bool, seed: int
) -> None:
    scale = Scale("thou", 30, Decimal("0.5"))
    value = Decimal(halves) / 2
    words = call(Reading(value, True, station), scale, random.Random(seed), manner, named=named)
    meaning = parse(words, scale)
    assert isinstance(meaning, Reading)
    assert accepts(sentences(Offer(scale, readings=True)), words)
    assert meaning.station in ((station,) if named else (station, None))
    assert meaning.value == (value if meaning.signed else abs(value))


def test_a_right_read_back_is_left_alone() -> None:
    person = _sweeping(_person())
    assert _asked(person, "Front?") == "plus six"
    assert _asked(person, "Front plus six. Left?", "left") == "plus three"


def test_a_wrong_value_is_corrected_until_it_is_right() -> None:
    person = _sweeping(_person())
    _asked(person, "Front?")
    wrong = "correction front plus six"
    assert _asked(person, "Front plus sixty. Left?", "left") == wrong
    assert _asked(person, "Sweep one, three read. Left?", "left") == wrong
    assert _asked(person, "Front now plus fifteen. Left?", "left") == wrong
    assert _asked(person, "Front now plus six. Left?", "left") == "plus three"


def test_a_wrong_station_is_taken_back_and_called_again() -> None:
    person = _sweeping(_person())
    _asked(person, "Front?")
    assert _asked(person, "Left plus six. Front?") == "disregard"
    assert _asked(person, "Left taken back. Front?") == "plus six"


def test_what_was_never_called_is_taken_back() -> None:
    person = _sweeping(_person())
    person.hear("Front?")
    assert _asked(person, "Right plus nine. Front?") == "disregard"


def test_the_sign_is_given_truthfully() -> None:
    person = _sweeping(_person(-6.0))
    assert _asked(person, "Front?") == "minus six"
    assert _asked(person, "Plus or minus six?") == "minus"
    assert _asked(person, "Front: plus or minus six?") == "minus"
    assert _asked(person, "Plus or minus nine?") == "front minus six"


def test_a_sign_that_nobody_hears_is_called_with_its_number() -> None:
    person = _sweeping(_person(-6.0))
    assert _asked(person, "Front?") == "minus six"
    assert _asked(person, "Front: plus or minus six?") == "minus"
    assert person.silence() == "front minus six"


def test_a_doubtful_reading_is_agreed_to_only_when_it_is_right() -> None:
    offers = ("yes", "no", *SWEEPING)
    for asked, answer in (
        ("Front plus one five?", "no"),
        ("Front minus six?", "no"),
        ("Front plus six?", "yes"),
    ):
        person = _sweeping(_person())
        _asked(person, "Front?")
        person.hear(asked)
        assert person.answer(Question("sweep", "front", offers)) == answer


def test_a_command_that_was_not_said_is_refused() -> None:
    person = _person()
    person.answer(Question("unplugged", None, ("yes", "no")))
    for asked in ("Skip?", "Finish?", pending.ASK_STOP):
        person.hear(asked)
        assert person.answer(Question("loosen", None, ("yes", "no"))) == "no"


def test_what_was_missed_is_said_again_in_full_or_in_another_word() -> None:
    person = _sweeping(_person())
    _asked(person, "Front?")
    assert _asked(person, wording.MISSED) == "front plus six"
    person = _person()
    assert person.answer(Question("unplugged", None, ("yes", "no"))) == "yes"
    person.hear(wording.MISSED)
    assert person.answer(Question("unplugged", None, ("yes", "no"))) == "affirm"
    assert person.silence() == "yes"


def test_a_wrong_shim_is_taken_back_and_the_right_one_goes_in() -> None:
    person = _sweeping(_person(manner=ALWAYS))
    told = step_from_json({"do": "shim", "place": "above", "total": 1.5}, person.scale)
    person.told(told)
    offers = ("done", "skip", "disregard")
    assert person.answer(Question("shim", None, offers)) == "shim one and a half above"
    assert person.bench.shim == Decimal("1.5")
    person.hear("Shim nine above. Tighten the bolt. Lock all. Say locked.")
    assert person.answer(Question("tighten", None, ("locked", "disregard"))) == "disregard"


def test_nothing_is_read_after_the_table_was_loose() -> None:
    person = _sweeping(_person())
    person.answer(Question("loosen", None, ("done", "disregard")))
    assert _asked(person, "Back taken back. Back again?", "back") == "disregard"


def test_set_up_is_agreed_to_only_as_it_is() -> None:
    person = _person()
    person.hear(setup.set_up("ten inches", "six thou"))
    assert person.answer(Question("set up", None, ("yes", "no"))) == "no"
    assert person.answer(Question("sweep diameter", None, ("skip",))) == "ten inches"
    assert person.answer(Question("tolerance", None, ("skip",))) == "four thou"
    person.hear(setup.set_up("ten inches", "four thou"))
    assert person.answer(Question("set up", None, ("yes", "no"))) == "yes"


def test_a_set_up_in_few_words_is_answered_by_locking() -> None:
    person = _person()
    for said in (
        setup.brief("ten inches", "four thou"),
        setup.set_up("ten inches", "four thou", agreed="All locked?"),
    ):
        person.hear(said)
        assert person.answer(Question("set up", None, ("locked", "no"))) == "locked"


def test_bolt_and_shim_in_one_go_put_in_what_was_told() -> None:
    person = _person()
    person.told(Step("loosen", what="tilt bolt"))
    person.told(Step("shim", place="above", leaves=(Decimal(2),), total=Decimal(2)))
    assert person.answer(Question("loosen and shim", None, ("done", "skip"))) == "done"
    assert person.bench.shim == 2
    assert not person.bench.bolt_tight
    assert person.answer(Question("bolt still tight", None, ("yes", "no"))) in ("no", "negative")


def test_a_dial_off_its_range_stops_the_person() -> None:
    person = _sweeping(_person(70.0))
    with pytest.raises(OperatorStuck, match="off its range at the front"):
        _asked(person, "Front?")


def test_the_short_form_of_making_safe_is_answered() -> None:
    assert _person().answer(Question("all safe", None, ("yes", "no"))) in ("yes", "affirm")


def test_an_unknown_phase_stops_the_person() -> None:
    with pytest.raises(OperatorStuck, match="does not know what to do in brewing"):
        _person().answer(Question("brewing", None, ()))


def test_steps_of_a_metric_run_are_counted_in_hundredths() -> None:
    row = {"do": "tap", "station": "right", "change": -0.03, "dial_target": 0.12}
    step = step_from_json(row, Scale("mm", 80, Decimal(1)))
    assert step.change == -3
    assert step.dial_target == 12


def test_read_backs_are_found_and_questions_are_none() -> None:
    scale = Scale()
    assert read_back("Front plus six. Left?", scale) == Reading(Decimal(6), True, "front")
    assert read_back("Front now zero. Left?", scale) == Reading(Decimal(0), True, "front")
    assert read_back("Shim three below. Tighten.", scale) == Shim(Decimal(3), "below")
    assert read_back("No shim. Tighten.", scale) == Shim(Decimal(0))
    for text in ("Front plus six?", "Front high six. Left?", "Back moved three. Sweep again.", ""):
        assert read_back(text, scale) is None


def test_after_no_to_every_guess_the_reading_is_called_again() -> None:
    person = _sweeping(_person())
    _asked(person, "Front?")
    person.hear("Front plus one five?")
    assert person.answer(Question("sweep", "front", ("yes", "no", *SWEEPING))) == "no"
    assert _asked(person, pending.NO_MATCH) == "front plus six"
