"""What was learnt of a voice is kept from one job to the next, or said to be lost."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.bench.known_person import KnownPerson
from assistant.devices.ears.fallback.acoustics.person import (
    CHAINS,
    FURTHEST_OFFSET,
    KEPT_FRAMES,
    WARPS,
    Lesson,
    Person,
    person_from,
)
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.hearing import Ears
from assistant.devices.ears.verify import verify
from grammar.offer import everything
from grammar.scale import Scale
from tests.ears.sounds import clip, quiet

SHAPE = (CHAINS, 13)
SOMEBODY = Person(
    Lesson(np.linspace(-40, 0, len(WARPS)), np.full(SHAPE, 500.0), np.full(SHAPE, 100.0), 400.0)
)


def written(folder: Path, text: str) -> Path:
    path = folder / "voice.json"
    path.write_text(text, encoding="utf-8")
    return path


def begin(path: Path, *, forget: bool = False) -> tuple[Person, str]:
    """Who is taken to speak, and what is said about it."""
    err = io.StringIO()
    return KnownPerson(path, err, forget=forget).likely, err.getvalue()


def test_what_was_learnt_comes_back_with_less_weight(tmp_path: Path) -> None:
    path = tmp_path / "new" / "voice.json"
    err = io.StringIO()
    known = KnownPerson(path, err)
    made = known.recogniser("pocketsphinx")
    ears = Ears(made, verify)
    ears.arm(everything(Scale()))
    call = np.concatenate([clip("right plus one", "awb"), quiet(0.6)])
    heard = [one for _ in range(3) for one in ears.feed(call)]
    assert len(heard) == 3
    for one in heard:
        made.confirm(one.decoded)
    known.keep()
    person, told = begin(path)
    assert told == err.getvalue() == ""
    assert person.lessons.frames == pytest.approx(KEPT_FRAMES)
    assert isinstance(made, PocketSphinx)
    learnt = made.person
    assert [words for words, _ in person.habits.calls] == ["right plus one"] * 3
    assert person.habits == learnt.habits
    assert person.lessons.pull / person.lessons.firmness == pytest.approx(
        learnt.lessons.pull / learnt.lessons.firmness
    )


def test_one_recogniser_hands_on_to_the_next(tmp_path: Path) -> None:
    known = KnownPerson(tmp_path / "voice.json", io.StringIO())
    first = known.recogniser("pocketsphinx")
    assert isinstance(first, PocketSphinx)
    first.person = SOMEBODY
    second = known.recogniser("pocketsphinx")
    assert isinstance(second, PocketSphinx)
    assert second.person is known.likely is SOMEBODY
    second.forget()
    assert second.person is SOMEBODY


def test_a_file_from_before_habits_were_kept_is_read(tmp_path: Path) -> None:
    plain = SOMEBODY.as_plain()
    del plain["calls"]
    person, told = begin(written(tmp_path, json.dumps(plain)))
    assert told == ""
    assert person.warp == SOMEBODY.warp
    assert not person.habits.calls


def test_nothing_learnt_writes_nothing(tmp_path: Path) -> None:
    known = KnownPerson(tmp_path / "voice.json", io.StringIO())
    known.keep()
    known.recogniser("pocketsphinx")
    known.keep()
    assert not list(tmp_path.iterdir())


def test_forgetting_drops_the_file(tmp_path: Path) -> None:
    path = written(tmp_path, json.dumps(SOMEBODY.as_plain()))
    assert begin(path)[0].warp != Person().warp
    assert begin(path, forget=True)[0].warp == Person().warp
    assert not path.exists()


@pytest.mark.parametrize(
    "text",
    [
        "", "{", "[]", "{}", '{"warps": 1}', "[" * 5000, "7" * 30_000, "\udcff",
        json.dumps(SOMEBODY.as_plain() | {"frames": -1}),
        json.dumps(SOMEBODY.as_plain() | {"frames": float("nan")}),
        json.dumps(SOMEBODY.as_plain() | {"warps": [0, 0]}),
        json.dumps(SOMEBODY.as_plain() | {"pull": [["a"] * 13] * 2}),
        json.dumps(SOMEBODY.as_plain() | {"pull": [[1e9] * 13] * 2}),
        json.dumps(SOMEBODY.as_plain() | {"calls": [["yes"]]}),
    ],
)  # fmt: skip
def test_a_damaged_file_is_said_and_costs_only_what_it_held(tmp_path: Path, text: str) -> None:
    path = tmp_path / "voice.json"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    person, told = begin(path)
    assert not person.lessons.frames
    assert told.startswith("sweepsay: your voice is learnt from scratch: ")
    assert len(told.splitlines()) == 1


def test_a_file_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    err = io.StringIO()
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    known = KnownPerson(tmp_path / "file" / "voice.json", err)
    made = known.recogniser("pocketsphinx")
    assert isinstance(made, PocketSphinx)
    made.person = SOMEBODY
    known.keep()
    assert "your voice is learnt from scratch next time" in err.getvalue()


numbers = st.floats(allow_nan=False, allow_infinity=False, width=32)


@given(
    st.lists(numbers.map(lambda x: -abs(x)), min_size=5, max_size=5),
    st.lists(st.lists(numbers.map(abs), min_size=13, max_size=13), min_size=2, max_size=2),
    st.lists(st.lists(numbers, min_size=13, max_size=13), min_size=2, max_size=2),
    numbers.map(abs),
)
def test_as_plain_and_back(
    warps: list[float], firmness: list[list[float]], pull: list[list[float]], frames: float
) -> None:
    person = Person(Lesson(np.array(warps), np.array(firmness), np.array(pull), frames))
    if max(np.abs(person.offset(chain)).max() for chain in range(CHAINS)) > FURTHEST_OFFSET:
        with pytest.raises(ValueError, match="further"):
            person_from(person.as_plain())
        return
    again = person_from(json.loads(json.dumps(person.as_plain())))
    assert again.as_plain() == person.as_plain()
