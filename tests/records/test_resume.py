"""A snapshot gives the very state that all the events give, or is not used."""

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from assistant import dialogue
from assistant.dialogue.facts import Shims
from assistant.dialogue.messages import Event, Started
from assistant.dialogue.state import State
from assistant.dialogue.step import fold, step
from assistant.records.journal import resume
from assistant.records.journal.codec import DamagedEvent, encode
from assistant.records.journal.journal import Journal
from assistant.records.journal.resume import code_version, keep_snapshot, load_state
from tests.records.jobs import rehearsed


def _play(path: Path, events: tuple[Event, ...]) -> State:
    first = events[0]
    assert isinstance(first, Started)
    state: State | None = None
    with Journal.open(path) as journal:
        journal.start(first.job, first.profile.name, first.at)
        for event in events:
            number = journal.append(first.job, event)
            state, _ = step(state, event)
            keep_snapshot(journal, number, state)
    assert state is not None
    return state


@pytest.mark.parametrize("every", [1, 7, 10_000])
def test_the_state_is_that_of_all_events(
    tmp_path: Path, every: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(resume, "EVERY", every)
    events = rehearsed(2).events
    for count in (1, 6, 7, 20, len(events)):
        path = tmp_path / f"{count}.db"
        state = _play(path, events[:count])
        with Journal.open(path) as journal:
            assert load_state(journal, "job-2") == state == fold(events[:count])


def test_a_snapshot_is_really_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(resume, "EVERY", 10)
    path = tmp_path / "jobs.db"
    _play(path, rehearsed(2).events)
    asked: list[int] = []
    real = Journal.events

    def noted(journal: Journal, job_id: str, after: int = 0) -> tuple[Event, ...]:
        asked.append(after)
        return real(journal, job_id, after)

    monkeypatch.setattr(Journal, "events", noted)
    with Journal.open(path) as journal:
        load_state(journal, "job-2")
        assert asked == [len(rehearsed(2).events) // 10 * 10]
        monkeypatch.setattr(resume, "code_version", lambda: "other code")
        load_state(journal, "job-2")
        monkeypatch.setattr(resume, "code_version", lambda: "")
        load_state(journal, "job-2")
        assert asked[1:] == [0, 0]


@pytest.mark.parametrize("body", ["", "[]", '{"job": 3}', "[" * 100_000, '{"news": 1}'])
def test_a_snapshot_that_cannot_be_read_is_not_used(tmp_path: Path, body: str) -> None:
    path = tmp_path / "jobs.db"
    state = _play(path, rehearsed(1).events)
    with Journal.open(path) as journal:
        journal.save_snapshot("job-1", 5, code_version(), body)
        assert load_state(journal, "job-1") == state
        good = '{"number": "too high"}'
        journal.save_snapshot("job-1", 10_000, code_version(), good)
        assert load_state(journal, "job-1") == state


def _as_older_versions_wrote_it(state: State) -> str:
    """A snapshot in which every sweep had a field of its own for each thing known before it."""
    data = encode(state, State)
    for sweep in data["sweeps"]:
        sweep |= {f"{name}_before": known for name, known in sweep.pop("before").items()}
    return json.dumps(data)


@pytest.mark.parametrize("version", ["0" * 64, None])
def test_a_snapshot_of_an_older_version_is_left_and_the_job_folded_from_its_events(
    tmp_path: Path, version: str | None
) -> None:
    """By its version as a rule; were that the same (None), by its shape."""
    events = rehearsed(1).events
    path = tmp_path / "jobs.db"
    state = _play(path, events)
    halfway = len(events) - 3
    snapped = fold(events[:halfway])
    assert snapped is not None
    assert snapped.sweeps
    # Were it used, the job would have another shim in it than its events say.
    lying = replace(snapped, shims=Shims(Decimal(99)))
    with Journal.open(path) as journal:
        code = version or code_version()
        journal.save_snapshot("job-1", halfway, code, _as_older_versions_wrote_it(lying))
        assert load_state(journal, "job-1") == state
        # The same in today's form and version is taken: it is the age that was recognised.
        today = json.dumps(encode(lying, State))
        journal.save_snapshot("job-1", halfway, code_version(), today)
        assert load_state(journal, "job-1") == fold(events[halfway:], lying) != state


def test_a_snapshot_that_is_ahead_of_the_events_is_not_used(tmp_path: Path) -> None:
    """It would hold what the journal does not: a disk gave back an older file of the two."""
    events = rehearsed(1).events
    path = tmp_path / "jobs.db"
    state = _play(path, events[:-3])
    later = fold(events)
    assert later is not None
    with Journal.open(path) as journal:
        body = json.dumps(encode(later, State))
        journal.save_snapshot("job-1", len(events), code_version(), body)
        assert load_state(journal, "job-1") == state


def test_a_job_without_events_has_no_state(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "jobs.db") as journal:
        journal.start("empty", "mill", "2031")
        assert load_state(journal, "empty") is None


def test_a_damaged_event_is_not_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    _play(path, rehearsed(1).events)
    with Journal.open(path) as journal:
        journal.close_job("job-1", "2031")
    data = path.read_bytes()
    place = data.index(b'"turn":20,')
    path.write_bytes(data[:place] + b'"turn":21,' + data[place + 10 :])
    with Journal.open(path) as journal, pytest.raises(DamagedEvent, match="check sum"):
        load_state(journal, "job-1")


def test_the_version_is_that_of_the_sources() -> None:
    assert len(code_version()) == 64
    assert code_version() == code_version()


@pytest.mark.parametrize("folder", ["procedures", ""])
def test_every_source_that_a_state_depends_on_is_in_the_version(
    folder: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A prompt, too: a state holds what was said last."""
    home = Path(next(iter(dialogue.__path__))) / folder
    if not home.is_dir():
        pytest.fail(f"the dialogue has no folder {folder!r} any more: name another one here")
    changed = min(home.glob("*.py"))
    read = Path.read_bytes
    monkeypatch.setattr(
        Path, "read_bytes", lambda path: read(path) + b"#" * (path.resolve() == changed.resolve())
    )
    assert code_version.__wrapped__() != code_version()
