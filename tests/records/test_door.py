"""Whatever became of the record, every command starts, and says in one line what was done.

`python -m tests.records.damaging` and `python -m tests.records.killing --calls` do the same for
many more damaged records and moments.
"""

import os
import re
import stat
import subprocess
from pathlib import Path

import pytest

from assistant.__main__ import main
from assistant.records.faults import RecordError
from assistant.records.journal import schema
from assistant.records.journal.journal import Journal
from assistant.records.journal.writer_lock import lock_path
from tests.records import damaging
from tests.records.answering import answered
from tests.records.forked import open_folder, without_rights
from tests.records.killing_at_calls import MISSING, run_killing

# Forking is what is wanted here; later Pythons warn because of numpy's threads.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")

FIRST = damaging.first_of(0)
RUN = ("run", "--no-ask", "--ears", "text", "--voice", "text")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "jobs.db"


# -- item by item: what a kill or a full disk leaves -----------------------------------------


@pytest.mark.parametrize("lock", [True, False])
@pytest.mark.parametrize("arguments", [RUN, ("run", "--ask", *RUN[2:])], ids=["no ask", "ask"])
def test_an_empty_record_is_made(
    path: Path, lock: bool, arguments: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    path.touch()
    if lock:
        lock_path(path).touch()
    code, out, err = answered(monkeypatch, capsys, "job", "list", "--db", str(path))
    assert (code, out) == (1, "")
    assert "'sweepsay run' makes it" in err
    code, out, err = answered(monkeypatch, capsys, *arguments, "--db", str(path))
    assert code == 0
    assert out.startswith("say: ")
    assert "no record" not in err
    code, out, err = answered(monkeypatch, capsys, "job", "list", "--db", str(path))
    assert code == 0


@pytest.mark.parametrize("first", [RUN, ("run", "drill", *RUN[2:]), ("job", "list")], ids=str)
def test_a_page_of_zeros_is_set_aside_by_whatever_command_comes_first(
    path: Path, whole: dict[str, damaging.Files], first: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("XDG_CONFIG_HOME", str(path.parent))
    answered(monkeypatch, capsys, "machine", "new", "drill", "--layout", "bench drill press",
         "--set", "tolerance=3 thou")  # fmt: skip
    data = whole["closed"][""]
    path.write_bytes(data[: damaging.PAGE] + bytes(damaging.PAGE) + data[2 * damaging.PAGE :])
    code, out, err = answered(monkeypatch, capsys, *first, "--db", str(path))
    assert code == 0
    assert "the record was damaged and is set aside as" in err
    assert "120 events (jobs: 3) were read from it" in err
    if first[0] == "run":
        assert out.startswith("say: The record is damaged. Check the last reading.\n")
    code, out, err = answered(monkeypatch, capsys, "job", "list", "--db", str(path))
    assert (code, err) == (0, "")


# -- damaged in every way ----------------------------------------------------------------------


@pytest.mark.parametrize("name", damaging.DAMAGES)
def test_what_sqlite_can_still_read_is_there(whole: dict[str, damaging.Files], name: str) -> None:
    """SQLite itself, reading the damaged files before us, is the measure."""
    results = [damaging.one(whole, name, 10_000 + seed) for seed in range(6)]
    assert [problem for result in results for problem in result.problems] == []
    # The damages of which SQLite itself notices nothing are told of all the same.
    if name in ("log lost", "log of another time or record", "journal of another time"):
        assert all(result.told for result in results)


@pytest.mark.parametrize("place", [18, 19, 60, 62, 63, 68, 70, 71])
def test_every_bit_of_the_header_that_says_what_the_file_is(
    whole: dict[str, damaging.Files], place: int
) -> None:
    """SQLite's file format, 1.3: formats at 18 and 19, user version at 60, application at 68."""
    for bit in range(8):
        data = bytearray(whole["closed"][""])
        data[place] ^= 1 << bit
        result = damaging.opened({"": bytes(data)}, lock=False)
        assert result.problems == []
        assert result.kept == 120


@pytest.mark.parametrize("name", damaging.FOREIGN)
def test_a_stranger_s_file_is_refused_without_a_trace(path: Path, name: str) -> None:
    path.write_bytes(damaging.FOREIGN[name])
    for write in (True, False):
        with pytest.raises(RecordError, match="is not a record of jobs: name another"):
            Journal.open(path, write=write)
    assert path.read_bytes() == damaging.FOREIGN[name]
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_what_stands_at_the_usual_place_is_no_dead_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    path = tmp_path / "sweepsay" / "jobs.db"
    path.parent.mkdir()
    path.write_bytes(damaging.FOREIGN["a picture"])
    with Journal.open(path) as journal:
        assert journal.rescued is not None
        assert journal.rescued.aside.read_bytes() == damaging.FOREIGN["a picture"]


def test_only_the_damaged_row_and_what_is_behind_it_in_its_job_is_left_out(path: Path) -> None:
    """Damage in the middle of the file costs a page, not all rows from there to another one."""
    with Journal.open(path) as journal:
        for job in range(12):
            journal.start(f"job-{job}", f"machine {job}", "2031")
            for event in damaging.events_of(job):
                journal.append(f"job-{job}", event)
    data = bytearray(path.read_bytes())
    pages = [
        place // damaging.PAGE * damaging.PAGE
        for words in (b'"machine 3"', b'"machine 8"')
        for place in [data.index(b'"kind":"started"', data.index(words) - 900)]
    ]
    for page in pages:
        data[page : page + damaging.PAGE] = bytes(damaging.PAGE)
    path.write_bytes(data)
    with Journal.open(path) as journal:
        assert journal.rescued is not None
        counts = sorted(row.events for row in journal.jobs())
    # Two pages of a dozen rows each.
    assert sum(counts) >= 12 * damaging.EVENTS - 2 * (damaging.EVENTS + 12)


def test_a_rescue_of_which_somebody_took_the_record_away(path: Path) -> None:
    """`jobs.db.rescued` alone: whole it is the record, half-built it is kept under another name."""
    fresh = path.with_name("jobs.db.rescued")
    with Journal.open(fresh) as journal:
        journal.start("job-0", FIRST.profile.name, "2031")
        journal.append("job-0", FIRST)
    lock_path(fresh).unlink()
    whole = fresh.read_bytes()
    told: list[str] = []
    with Journal.read(path, told.append) as journal:
        assert journal.job("job-0").events == 1
    path.unlink()
    fresh.write_bytes(whole[: len(whole) // 2])
    with Journal.open(path) as journal:
        assert journal.jobs() == ()
    assert path.with_name("jobs.db.damaged-1").read_bytes() == whole[: len(whole) // 2]


def test_a_flipped_bit_in_the_log_costs_a_page_and_not_all_that_came_after(
    whole: dict[str, damaging.Files],
) -> None:
    """SQLite stops at the first frame whose sum is wrong: "WAL-mode File Format", 4.2."""
    files = whole["cut off"]
    log = bytearray(files["-wal"])
    frames = (len(log) - 32) // (24 + damaging.PAGE)
    # Somewhere in the page of the third frame, which the following ones write again.
    log[32 + 2 * (24 + damaging.PAGE) + 24 + 300] ^= 4
    assert frames > 100
    result = damaging.opened(files | {"-wal": bytes(log)}, lock=False)
    assert result.problems == []
    assert "the record was damaged" in result.told
    assert result.readable < 80
    assert result.kept == 120


def test_what_an_unfinished_transaction_left_in_the_log_is_no_damage(path: Path) -> None:
    """Its frames stand behind those that were written over its beginning, with equal salts."""
    with damaging.begin(path) as journal:
        ask = journal._connection.execute
        ask("PRAGMA cache_size = 1")
        ask("BEGIN")
        ask("CREATE TABLE spilled AS SELECT randomblob(90000)")
        ask("ROLLBACK")
        ask("PRAGMA cache_size = 100")
        journal.append("job-0", damaging.TRUTH["job-0"][5])
        files = {ending: path.with_name(path.name + ending).read_bytes() for ending in ("", "-wal")}
    assert len(files["-wal"]) > 20 * damaging.PAGE
    copy = path.parent / "copy"
    copy.mkdir()
    with Journal.open(damaging.put(copy, files, lock=True)) as journal:
        assert journal.told() == ()
        assert journal.job("job-0").events == 6


@pytest.mark.skipif(bool(MISSING), reason=MISSING)
def test_killed_before_any_call_that_touches_a_file() -> None:
    done = run_killing(24, 60.0, subprocess.PIPE)
    assert done.returncode == 0, done.stdout
    kills = re.search(r"^(\d+) kills, 0 problems$", done.stdout, re.MULTILINE)
    assert kills is not None
    # On a busy machine the time is over before.
    assert int(kills[1]) >= 8


# -- what is not a file ---------------------------------------------------------------------------


def test_what_can_be_no_record_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name, says in (
        (str(tmp_path / "pipe"), "no file but a pipe"), (str(tmp_path), "it is a folder"),
        (".", "it is a folder"), ("/", "it is a folder"), ("/dev/null", "a device"),
        (str(tmp_path / "pipe" / "x.db"), "name another place"),
    ):  # fmt: skip
        for command in (RUN, ("job", "list"), ("job", "export")):
            code, _, err = answered(monkeypatch, capsys, *command, "--db", name)
            assert code == 1
            assert err.count("\n") == 1
            assert says in err or "no record" in err
    with pytest.raises(SystemExit, match="2"):
        main(["run", "--db", ""])
    assert "give the name of a file" in capsys.readouterr().err


def test_a_record_in_a_folder_that_may_not_be_entered() -> None:
    with open_folder() as folder:
        inner = folder / "closed"
        inner.mkdir()
        (inner / "jobs.db").touch()
        inner.chmod(0)

        def work() -> list[str]:
            found = []
            for write in (True, False):
                try:
                    Journal.open(inner / "jobs.db", write=write)
                except RecordError as error:
                    found.append(str(error))
            return found

        found = without_rights(work)
        assert len(found) == 2
        assert all("make it writable" in line or "name another" in line for line in found)


def test_a_record_in_memory_says_that_nothing_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = answered(monkeypatch, capsys, *RUN, "--db", ":memory:")
    assert code == 0
    assert "Chuck key out" in out
    assert "--db :memory: keeps nothing" in err
    assert list(tmp_path.iterdir()) == []


def test_a_record_is_its_owner_s_business(path: Path) -> None:
    mask = os.umask(0)
    try:
        with damaging.begin(path):
            modes = [
                stat.S_IMODE(path.with_name(path.name + ending).stat().st_mode)
                for ending in ("", "-wal", "-shm")
            ]
        for given, kept in ((0o644, 0o600), (0o660, 0o660)):
            path.chmod(given)
            Journal.open(path).close()
            assert stat.S_IMODE(path.stat().st_mode) == kept
    finally:
        os.umask(mask)
    assert modes == [0o600] * 3


def test_every_version_has_tables_of_its_own() -> None:
    """By which a damaged version number is told from a newer record."""
    for version in range(schema.VERSION):
        assert schema.names(version) < schema.names(version + 1)
