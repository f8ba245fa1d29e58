"""The spoken language: words to meaning and back, and what an offer compiles to."""

import doctest
import random
from decimal import Decimal

import num2words
import pytest
from hypothesis import given
from hypothesis import strategies as st

import grammar.numerals
import grammar.parse
from grammar.meaning import Command, Meaning, Reading, Shim, Side, Sign, Size, Unclear, Wish
from grammar.numerals import digit_words, number_value, number_words, whole_words
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.phrases import UNKNOWN, phrases
from grammar.say import words
from grammar.scale import STEPS, Scale
from grammar.sentences import sentences, words_of
from grammar.vocabulary import BY_NAME, COMMANDS, STATIONS, TABLE
from grammar.written import as_spoken, spoken_number
from tests.grammar.languages import accepts, sample

INCH = Scale("thou", 30, Decimal("0.25"))
METRIC = Scale("mm", 30, Decimal("0.5"))
SCALES = (INCH, METRIC, Scale("thou", 100, Decimal("0.1")), Scale("thou", 5, Decimal("0.01")))


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("front plus six", Reading(Decimal(6), True, "front")),
        ("rear minus twenty three", Reading(Decimal(-23), True, "back")),
        ("plus one two", Reading(Decimal(12), True)),
        ("minus six and a half", Reading(Decimal("-6.5"), True)),
        ("plus half", Reading(Decimal("0.5"), True)),
        ("plus a quarter thou", Reading(Decimal("0.25"), True, unit="thou")),
        ("plus half a thou", Reading(Decimal("0.5"), True, unit="thou")),
        ("minus three quarters of a thou", Reading(Decimal("-0.75"), True, unit="thou")),
        ("left plus six point five", Reading(Decimal("6.5"), True, "left")),
        ("left plus six decimal two five", Reading(Decimal("6.25"), True, "left")),
        ("six", Reading(Decimal(6), False)),
        ("zero", Reading(Decimal(0), True)),
        ("minus zero", Reading(Decimal(0), True)),
        ("front zero", Reading(Decimal(0), True, "front")),
        ("correction right minus four thou", Reading(Decimal(-4), True, "right", "thou", True)),
        ("plus a thou and a half", Reading(Decimal("1.5"), True, unit="thou")),
        ("plus two tenths", Reading(Decimal("0.2"), True, unit="tenth", doubtful_unit=True)),
        ("shim three above", Shim(Decimal(3), "above")),
        ("shim one and a half", Shim(Decimal("1.5"), None)),
        ("ten inches", Size(Decimal(10), "in")),
        ("affirm", Command("yes")),
        ("negative", Command("no")),
        ("say again", Command("say again")),
        ("correction", Command("correction")),
        ("plus", Sign("plus")),
        ("Front +6.5", Reading(Decimal("6.5"), True, "front")),
        ("right -3", Reading(Decimal(-3), True, "right")),
        ("", Unclear("")),
        ("rear", Side("back")),
        ("front plus", Unclear("front plus")),
        ("plus twenty twelve", Unclear("plus twenty twelve")),
        ("plus oh six", Unclear("plus oh six")),
        ("plus six seven eight nine ten", Unclear("plus six seven eight nine ten")),
        ("nice weather", Unclear("nice weather")),
    ],
)
def test_words_to_meaning_at_an_inch_dial(said: str, meant: Meaning) -> None:
    assert parse(said, INCH) == meant


@pytest.mark.parametrize(
    ("said", "counts"),
    [
        ("plus six", "6"),
        ("plus six hundredths", "6"),
        ("plus sixty microns", "6"),
        ("minus five microns", "-0.5"),
        ("plus point zero four", "4"),
        ("plus zero point one two", "12"),
        ("plus two tenths", "20"),
        ("plus six and a half", "6.5"),
    ],
)
def test_metric_readings_count_hundredths_of_a_millimetre(said: str, counts: str) -> None:
    meaning = parse(said, METRIC)
    assert isinstance(meaning, Reading)
    assert meaning.value == Decimal(counts)


@pytest.mark.parametrize(
    ("said", "mm"),
    [
        ("shim point zero four", "0.04"),
        ("shim zero point zero four above", "0.04"),
        ("shim decimal one five", "0.15"),
        ("shim zero point five", "0.5"),
        ("shim 0.04", "0.04"),
        ("shim .04", "0.04"),
        ("shim four", "0.04"),
        ("shim four hundredths", "0.04"),
        ("shim forty microns", "0.04"),
        ("shim one and a half", "0.015"),
        ("shim half", "0.005"),
    ],
)
def test_a_metric_shim_from_the_point_on_is_millimetres_as_a_reading_is(said: str, mm: str) -> None:
    meaning = parse(said, METRIC)
    assert isinstance(meaning, Shim)
    assert meaning.total * METRIC.count_mm == Decimal(mm)
    assert not meaning.doubtful_unit
    reading = parse(said.replace("shim", "plus").removesuffix(" above"), METRIC)
    assert isinstance(reading, Reading)
    assert reading.value == meaning.total
    assert parse(words(meaning, METRIC), METRIC) == meaning


def test_a_metric_shim_with_a_point_in_the_middle_may_be_either() -> None:
    for said in ("shim one point five", "shim 1.5", "shim two decimal two five below"):
        assert getattr(parse(said, METRIC), "doubtful_unit", False), said
        assert not getattr(parse(said, INCH), "doubtful_unit", True), said
    assert parse("shim one point five hundredths", METRIC) == Shim(Decimal("1.5"))


@pytest.mark.parametrize("value", ["0.01", "0.1", "0.35", "1.1", "12.25", "0.5", "30"])
def test_a_metric_shim_of_any_fineness_is_said_so_that_it_is_understood(value: str) -> None:
    for doubtful in (False, True):
        if doubtful and (value.startswith("0.") or "." not in value):
            continue
        shim = Shim(Decimal(value), "below", doubtful)
        assert parse(words(shim, METRIC), METRIC) == shim


def test_typed_and_keyed_readings_from_the_point_on_are_millimetres() -> None:
    assert parse("+0.04", METRIC) == parse("+.04", METRIC) == Reading(Decimal(4), True)
    assert parse("+1.5", METRIC) == Reading(Decimal("1.5"), True)


def test_whole_number_words_agree_with_num2words() -> None:
    """Reference: the num2words library, over every number that can be called."""
    for value in range(1000):
        reference = num2words.num2words(value).replace("-", " ").replace(" and ", " ")
        assert whole_words(value) == reference
        assert number_value(reference) == value


@given(st.integers(1000, 999_999))
def test_computed_numbers_beyond_the_dial_can_be_said(value: int) -> None:
    """Reference: the num2words library."""
    reference = num2words.num2words(value).replace("-", " ").replace(",", "").replace(" and ", " ")
    assert whole_words(value) == reference
    assert number_value(reference) == value


def test_number_words_with_and_are_understood() -> None:
    """Reference: num2words says "one hundred and twelve"."""
    for value in range(101, 1000):
        assert number_value(num2words.num2words(value).replace("-", " ")) == value


@given(st.integers(10, 999))
def test_digits_one_by_one(value: int) -> None:
    assert number_value(digit_words(value)) == value


@given(st.sampled_from(SCALES), st.data())
def test_a_number_said_is_the_number_understood(scale: Scale, data: st.DataObject) -> None:
    steps = data.draw(st.integers(0, int(scale.reach / scale.step)))
    value = steps * scale.step
    assert number_value(number_words(value)) == value
    assert number_value(number_words(value, digitwise=True)) == value


_units = st.sampled_from([None, "thou"])


@given(st.integers(-120, 120), st.sampled_from([None, *STATIONS]), _units, st.booleans())
def test_a_reading_said_is_the_reading_understood(
    quarters: int, station: str | None, unit: str | None, correction: bool
) -> None:
    value = Decimal(quarters) / 4
    reading = Reading(value, True, station, unit, correction)  # type: ignore[arg-type]
    assert parse(words(reading, INCH), INCH) == reading


@pytest.mark.parametrize("scale", SCALES, ids=str)
def test_every_sentence_that_is_offered_is_understood_and_allowed(scale: Scale) -> None:
    offer = everything(scale)
    tree, chance = sentences(offer), random.Random(20)
    for _ in range(1500):
        said = sample(tree, chance)
        meaning = parse(said, scale)
        assert offer.allows(meaning), said
        assert parse(words(meaning, scale), scale) == meaning, said
        assert accepts(tree, said)


@pytest.mark.parametrize("step", STEPS, ids=str)
def test_only_what_the_dial_shows_is_offered(step: Decimal) -> None:
    scale = Scale("thou", 30, step)
    offer = Offer(scale, readings=True)
    tree, chance = sentences(offer), random.Random(7)
    for _ in range(500):
        meaning = parse(sample(tree, chance), scale)
        assert isinstance(meaning, Reading)
        assert abs(meaning.value) <= 30
        assert meaning.doubtful_unit or meaning.value % step == 0
    assert not accepts(tree, "plus sixty")
    assert not accepts(tree, "plus three one")
    assert not accepts(tree, "plus thirty and a half")


JOB_SCALES = (
    *(Scale("thou", 30, step) for step in STEPS),
    *(Scale("mm", reach, step) for reach in (1, 30, 99) for step in STEPS),
)


@pytest.mark.parametrize("scale", JOB_SCALES, ids=str)
@pytest.mark.parametrize("turn", [0, 20])
@pytest.mark.parametrize("any_tenths", [True, False])
def test_tenths_are_offered_as_the_dial_shows_them_or_all(
    scale: Scale, turn: int, any_tenths: bool
) -> None:
    """Against lengths: a tenth of a thou is 0.00254 mm, one of a millimetre 0.1 mm (NIST SP 811).

    Tree, parser and phrase list agree.
    """
    signed = turn == 0
    offer = Offer(scale, readings=True, signed=signed, turn=turn, any_tenths=any_tenths)
    tree = sentences(offer)
    tenth_mm = Decimal("0.00254") if scale.system == "thou" else Decimal("0.1")
    most_mm = (turn or scale.reach) * scale.count_mm
    found = ""
    for tenths in range(1, 10):
        said = f"{whole_words(tenths)} tenths"
        size_mm = tenths * tenth_mm
        on_face = size_mm < most_mm if turn else size_mm <= most_mm
        shown = size_mm % (scale.step * scale.count_mm) == 0
        wanted = on_face and (any_tenths or shown)
        found += str(tenths) if wanted else ""
        assert accepts(tree, said) == wanted
        assert offer.allows(parse(said, scale)) == wanted
    assert ("tenths" in phrases(offer)) == bool(found)
    assert ("tenths" in words_of(tree)) == bool(found)


def test_zero_point_five_is_offered_where_the_dial_goes_to_half_a_millimetre() -> None:
    """Against the drawing's reading: 0.5 mm is fifty hundredths (NIST SP 811)."""
    for reach in (49, 50):
        offer = everything(Scale("mm", reach, Decimal("0.5")))
        called = parse("plus zero point five", offer.scale)
        assert called == Reading(Decimal(50), True)
        assert accepts(sentences(offer), "plus zero point five") == (reach == 50)
        assert offer.allows(called) == (reach == 50)
        assert accepts(sentences(offer), "plus zero and a half")


@pytest.mark.parametrize("scale", JOB_SCALES, ids=str)
def test_what_a_job_offers_is_understood_and_shown_by_its_dial(scale: Scale) -> None:
    offer = Offer(scale, COMMANDS, readings=True, shim=True, any_tenths=False)
    tree, chance = sentences(offer), random.Random(11)
    for _ in range(250):
        said = sample(tree, chance)
        meaning = parse(said, scale)
        assert offer.allows(meaning), said
        if isinstance(meaning, Reading):
            assert scale.shows(meaning.value), said


def test_a_recording_whose_dial_is_not_known_may_hold_any_tenths() -> None:
    assert everything(INCH).any_tenths
    assert accepts(sentences(everything(Scale("thou", 30, Decimal(1)))), "plus two tenths")


def test_a_thirty_thou_dial_has_no_sixty_so_sixteen_is_safe() -> None:
    assert "sixty" not in words_of(sentences(everything(INCH)))


@given(st.text(max_size=60))
def test_parse_is_total(said: str) -> None:
    assert isinstance(parse(said, INCH), Reading | Command | Sign | Side | Shim | Size | Unclear)


@given(st.lists(st.sampled_from(sorted(words_of(sentences(everything(INCH))))), max_size=9))
def test_any_words_of_the_language_parse_to_something_that_can_be_said_again(
    tokens: list[str],
) -> None:
    meaning = parse(" ".join(tokens), INCH)
    if not isinstance(meaning, Unclear):
        assert parse(words(meaning, INCH), INCH) == meaning


def test_no_phrase_twice_and_none_that_is_a_number() -> None:
    said = [(term.kind, phrase) for term in TABLE for phrase in term.says]
    assert len(said) == len(set(said))
    spoken = [phrase for kind, phrase in said if kind != "unit"]
    assert len(spoken) == len(set(spoken))
    assert all(number_value(phrase) is None for _, phrase in said)
    assert all(BY_NAME[term.name] is term for term in TABLE)


def test_phrases_for_a_list_recogniser_cover_the_words() -> None:
    offer = everything(INCH)
    listed = phrases(offer)
    assert listed[-1] == UNKNOWN
    single = {word for phrase in listed[:-1] for word in phrase.split()}
    wide = words_of(sentences(offer)) | words_of(spoken_number(INCH.reach))
    assert single == set(wide)


def test_an_empty_offer_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing in it"):
        sentences(Offer(INCH))
    with pytest.raises(ValueError, match="no such command"):
        Offer(INCH, ("dance",))
    with pytest.raises(ValueError, match="reach"):
        Scale("thou", 0)
    with pytest.raises(ValueError, match="step"):
        Scale("thou", 30, Decimal("0.3"))


@pytest.mark.parametrize("module", [grammar.numerals, grammar.parse])
def test_examples_in_docstrings(module: object) -> None:
    result = doctest.testmod(module)  # type: ignore[arg-type]
    assert result.attempted
    assert not result.failed


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize(
    ("said", "heard"),
    [
        ("tolerance three", True), ("tolerance two and a half", True), ("tolerance fifty", True),
        ("tolerance fifty one", False), ("tolerance", False), ("tolerance three inches", False),
        ("tolerance fifty and a half", False), ("sweep forty and a quarter", False),
        ("sweep nine inches", True), ("sweep ten and a half", True), ("sweep forty", True),
        ("sweep forty one", False), ("sweep", False), ("sweep nine thou", False),
    ],
)  # fmt: skip
def test_a_sweep_and_a_tolerance_are_wished_for_by_their_names(
    scale: Scale, said: str, heard: bool
) -> None:
    wanted = Offer(scale, ("yes",), changes=40)
    assert accepts(sentences(wanted), said) is heard
    assert not accepts(sentences(Offer(scale, ("yes",))), said)
    meaning = parse(said, scale)
    assert wanted.allows(meaning) is heard
    assert not Offer(scale, ("yes",)).allows(meaning)


@pytest.mark.parametrize(
    ("said", "heard"),
    [
        ("forty", True), ("thirty nine and a half", True), ("forty inches", True),
        ("forty and a half", False), ("forty and a quarter inches", False), ("forty one", False),
    ],
)  # fmt: skip
def test_no_size_beyond_the_largest_is_listened_for(said: str, heard: bool) -> None:
    offer = Offer(INCH, ("yes",), sizes=40)
    assert accepts(sentences(offer), said) is heard
    assert offer.allows(parse(said, INCH)) is heard


def test_a_wish_means_the_same_as_a_general_recogniser_writes_it() -> None:
    assert parse(as_spoken("Sweep 9 inches."), INCH) == Wish("sweep", Decimal(9), "in")
    assert parse(as_spoken("Tolerance, 2.5."), INCH) == Wish("tolerance", Decimal("2.5"))
