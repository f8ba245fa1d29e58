"""Whose job it is when no machine is named, and a first job in an empty home."""

import io
import json
from pathlib import Path

import pytest

from assistant.bench.loop import Machines
from assistant.bench.typed_job import run_typed
from assistant.bench.which_machine import which_machine
from assistant.devices.voice.synthesis import Voice
from assistant.dialogue.machine import Profile
from assistant.records.journal.journal import Journal
from assistant.records.machines.folder import Shelf
from assistant.records.machines.presets import LAYOUTS
from tests.devices import interview_time

JOB = ("yes", "yes", "yes", "yes", "locked", "zeroed", *["zero"] * 9, "yes", "done")
"""A job of a square table: the sweep, the corners that are asked for to be surer, the end."""


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "machines")


def _typed(shelf: Shelf, record: Path, *lines: str, asks: bool = True) -> str:
    profile, machines = which_machine(None, shelf, record, asks=asks, here=True, err=io.StringIO())
    out = io.StringIO()
    run_typed(
        profile, record, silent=False, as_json=False, machines=machines,
        stdin=io.StringIO("\n".join(lines)), stdout=out, stderr=io.StringIO(),
    )  # fmt: skip
    return out.getvalue()


def _choice(shelf: Shelf, record: Path, *, here: bool) -> tuple[Profile, Machines | None]:
    return which_machine(None, shelf, record, asks=None, here=here, err=io.StringIO())


def test_a_first_job_in_an_empty_home(shelf: Shelf, tmp_path: Path) -> None:
    record = tmp_path / "jobs.db"
    told = _typed(shelf, record, "no", "yes", "yes", "yes", "yes", "yes", "nine", "3", *JOB)
    assert "say: Three thou. Kept as floor drill press.\nsay: Is the machine unplugged?\n" in told
    assert "Sweep nine inches, within three thou. Yes?" in told
    assert told.endswith("say: Report written.\n")
    assert shelf.names() == ("floor-drill-press",)
    with Journal.open(record, write=False) as journal:
        (row,) = journal.jobs()
        assert row.machine == "floor drill press"
        assert row.closed_at is not None


def test_an_unfinished_job_of_the_machine_that_is_chosen_is_offered(
    shelf: Shelf, tmp_path: Path
) -> None:
    record = tmp_path / "jobs.db"
    _typed(shelf, record, *["yes"] * 7, *JOB[:3], "stop", "yes")
    told = _typed(shelf, record, "yes")
    offered = "Bench drill press from today, no sweep yet. Go on with it?"
    # Where midnight falls between the two.
    late = offered.replace("today", "yesterday")
    assert told in [f"say: Bench drill press?\nsay: {each}\n" for each in (offered, late)]


def test_nobody_is_asked_where_nobody_is_there(shelf: Shelf, tmp_path: Path) -> None:
    assert _choice(shelf, tmp_path / "jobs.db", here=False) == (Profile(), None)


def test_the_only_machine_is_taken(shelf: Shelf, tmp_path: Path) -> None:
    shelf.save(Profile(name="corner drill"))
    for here in (True, False):
        profile, machines = _choice(shelf, tmp_path / "jobs.db", here=here)
        assert (profile.name, machines) == ("corner drill", None)


def test_several_machines_are_asked_about_the_last_used_first(shelf: Shelf, tmp_path: Path) -> None:
    record = tmp_path / "jobs.db"
    for name in ("a drill", "b drill", "c drill"):
        shelf.save(Profile(name=name))
    with Journal.open(record) as journal:
        journal.start("one", "b drill", "2026-01-05T09:00:00.000Z")
        journal.start("two", "c drill", "2026-01-06T09:00:00.000Z")
    _, machines = _choice(shelf, record, here=True)
    assert machines is not None
    assert list(machines.known) == ["c drill", "b drill", "a drill"]


def test_a_damaged_profile_is_told_and_left_out(shelf: Shelf, tmp_path: Path) -> None:
    shelf.save(Profile(name="good drill"))
    (shelf.folder / "bad.toml").write_text('name = "bad"\nsweep_diameter = "10 feet"\n')
    err = io.StringIO()
    profile, _ = which_machine(None, shelf, tmp_path / "jobs.db", asks=None, here=True, err=err)
    assert profile.name == "good drill"
    assert "bad.toml, line 2: sweep_diameter" in err.getvalue()


def test_a_machine_that_cannot_be_kept_still_has_its_job(tmp_path: Path) -> None:
    (tmp_path / "machines").write_text("a file where the folder should be")
    shelf = Shelf(tmp_path / "machines")
    told = _typed(shelf, tmp_path / "jobs.db", *["yes"] * 7)
    assert told.endswith("say: Kept for this job only.\nsay: Is the machine unplugged?\n")


def test_what_was_lost_while_it_was_asked_is_lost_in_the_job(shelf: Shelf, tmp_path: Path) -> None:
    from assistant.bench.loop import Loop
    from assistant.dialogue.messages import DeviceLost, Event, Heard, RoomNoise
    from grammar.meaning import Command

    shelf.save(Profile(name="a drill"))
    record = tmp_path / "jobs.db"
    profile, machines = which_machine(None, shelf, record, asks=True, here=True, err=io.StringIO())
    events: list[Event] = []
    with Journal.open(record) as journal:
        loop = Loop(journal, profile, lambda _effect: None, events.append, machines=machines)
        loop.open_job()
        loop.post(DeviceLost("2026-01-05T09:00:00.000Z", "microphone", "none"))
        loop.post(RoomNoise("2026-01-05T09:00:00.000Z", True))
        assert events == [], "nothing of the introduction is in the record"
        assert loop.state is not None
        turn = loop.state.turn
        loop.post(Heard("2026-01-05T09:00:00.000Z", turn, "text", "accept", "yes", Command("yes")))
        assert loop.state.lost == ("microphone",)
        assert loop.state.too_loud
        assert [type(event).__name__ for event in events] == ["Started", "DeviceLost", "RoomNoise"]


def test_the_effects_tell_another_program_which_machine_it_became(
    shelf: Shelf, tmp_path: Path
) -> None:
    record = tmp_path / "jobs.db"
    profile, machines = which_machine(None, shelf, record, asks=True, here=False, err=io.StringIO())
    out = io.StringIO()
    run_typed(
        profile, record, silent=True, as_json=True, machines=machines,
        stdin=io.StringIO("yes\n" * 7), stdout=out, stderr=io.StringIO(),
    )  # fmt: skip
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    assert {"effect": "machine", "name": "bench drill press", "new": True} in lines


def test_every_kind_of_machine_is_made_in_less_than_two_minutes() -> None:
    # Counted, not timed: the prompts' length in the real voice, and four seconds an answer, of
    # the one with the most words.
    played = interview_time.sessions()
    assert len(played) == 2 * len(LAYOUTS) + 1
    longest = max(played, key=lambda session: len(" ".join(session.prompts).split()))
    assert longest.seconds(Voice()) < interview_time.LIMIT_S, longest.name
    assert max(len(session.answers) for session in played) <= len(longest.answers) <= 13
    assert interview_time.typed_lines() * interview_time.TYPING_S < interview_time.LIMIT_S


def test_at_the_end_it_is_said_where_the_report_is_or_that_the_job_goes_on(
    shelf: Shelf, tmp_path: Path
) -> None:
    record = tmp_path / "jobs.db"
    err = io.StringIO()
    shelf.save(Profile(name="a drill"))
    for lines in (JOB[:3], ("yes", "yes", *JOB[3:])):
        profile, _ = which_machine(None, shelf, record, asks=False, here=False, err=io.StringIO())
        run_typed(
            profile, record, silent=True, as_json=False, machines=None,
            stdin=io.StringIO("\n".join(lines)), stdout=io.StringIO(), stderr=err,
        )  # fmt: skip
    first, *last = err.getvalue().splitlines()
    assert first.endswith("is kept: the same command goes on with it")
    assert Path(last[0].removeprefix("sweepsay: report: ")).is_file()
    assert last[1] == "sweepsay: one page for the machine: sweepsay job sheet"


@pytest.mark.parametrize("place", range(len(LAYOUTS)))
@pytest.mark.parametrize("way", range(4))
def test_whatever_is_answered_the_machine_that_is_made_can_be_kept(
    place: int, way: int, shelf: Shelf, tmp_path: Path
) -> None:
    lines = (*["no"] * place, "yes", *["no"] * way, *["yes"] * 9)
    told = _typed(shelf, tmp_path / "jobs.db", *lines)
    assert "Kept as" in told
    assert "Kept for this job only" not in told
    (name,) = shelf.names()
    assert shelf.load(name).sweep_diameter.mm > 0
