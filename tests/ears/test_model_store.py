"""Downloading models, against a local server that cuts off, lies and stalls."""

import hashlib
import os
import re
import shutil
from collections import namedtuple
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path
from types import SimpleNamespace

import pytest

from assistant.devices.ears.model_faults import ModelError
from assistant.devices.ears.vosk import model_download
from assistant.devices.ears.vosk.model_archive import SIZES, damage
from assistant.devices.ears.vosk.model_download import ServerPatience, download
from assistant.devices.ears.vosk.model_store import (
    CATALOGUE,
    Installed,
    Model,
    find_model,
    half_finished,
    in_catalogue,
    install,
    installed_names,
    recorded_sum,
)
from tests.ears.model_server import NAME, Server, archive

PART, VERSION, SUM = f"{NAME}.zip.part", f"{NAME}.zip.part.version", f"{NAME}.zip.sha256"


@pytest.fixture
def server() -> Iterator[Server]:
    made = Server(archive())
    yield made
    made.close()


def left(folder: Path) -> list[str]:
    """What is there beside the small files that are locked."""
    return sorted(entry.name for entry in folder.iterdir() if entry.suffix != ".lock")


def fetch(
    model: Model, folder: Path, *, given: str | None = None, tries: int = 3, stall_s: float = 5.0
) -> Installed:
    return install(
        model, folder, lambda _there, _total: None, given=given, trial=loads,
        patience=ServerPatience(stall_s=stall_s, tries=tries, pause_s=0.0),
    )  # fmt: skip


def loads(folder: Path) -> None:
    """Every model loads; what the real trial finds is tested with a real model."""
    assert (folder / "am/final.mdl").is_file()


def test_a_model_is_installed_whole_with_progress(server: Server, tmp_path: Path) -> None:
    seen: list[tuple[int, int | None]] = []
    done = install(
        server.model(), tmp_path, lambda there, total: seen.append((there, total)), trial=loads
    )
    assert (done.path, done.checked, done.fresh) == (tmp_path / NAME, "known", True)
    assert (done.path / "README").read_bytes() == b"for tests"
    assert (done.path / "am/final.mdl").stat().st_size == 400_000
    assert left(tmp_path) == [NAME, SUM]
    assert (tmp_path / SUM).read_text() == f"{done.sha256}  {NAME}.zip\n"
    assert seen == sorted(seen)
    assert seen[-1] == (len(server.data), len(server.data))
    assert find_model(tmp_path) == done.path
    asked = len(server.asked)
    assert not fetch(server.model(), tmp_path).fresh
    assert len(server.asked) == asked


def test_a_connection_that_breaks_is_taken_up_where_it_stopped(
    server: Server, tmp_path: Path
) -> None:
    server.sends = [100_000, 70_000]
    fetch(server.model(), tmp_path, tries=1)
    assert server.asked == [
        (None, None), ("bytes=100000-", '"1"'), ("bytes=170000-", '"1"'),
    ]  # fmt: skip
    assert left(tmp_path) == [NAME, SUM]


def test_a_later_run_goes_on_with_what_is_there(server: Server, tmp_path: Path) -> None:
    server.sends = [50_000]
    with pytest.raises(ModelError, match=r"closed early; .*run the command again"):
        fetch(server.model(), tmp_path, tries=1)
    assert left(tmp_path) == [PART, VERSION]
    assert half_finished(tmp_path, NAME) == 50_000
    fetch(server.model(), tmp_path)
    assert server.asked == [(None, None), ("bytes=50000-", '"1"')]
    assert left(tmp_path) == [NAME, SUM]


def test_a_file_that_changed_meanwhile_is_fetched_anew(server: Server, tmp_path: Path) -> None:
    server.sends = [50_000]
    with pytest.raises(ModelError):
        fetch(server.model(), tmp_path, tries=1)
    server.data, server.tag = archive({f"{NAME}/new": b"new"}), '"2"'
    done = fetch(server.model(), tmp_path)
    assert (done.path / "new").read_bytes() == b"new"


def test_what_a_server_gives_no_version_of_is_not_mixed(server: Server, tmp_path: Path) -> None:
    for tag in ("", 'W/"1"'):  # a weak tag does not vouch for the bytes: RFC 9110, 13.1.5
        server.tag, server.sends, server.asked = tag, [50_000], []
        with pytest.raises(ModelError):
            fetch(server.model(), tmp_path, tries=1)
        fetch(server.model(), tmp_path)
        assert server.asked == [(None, None), (None, None)]
        shutil.rmtree(tmp_path / NAME)


def test_a_server_without_ranges_or_lengths(server: Server, tmp_path: Path) -> None:
    server.ranges, server.lengths = False, True
    server.sends = [100_000]
    fetch(server.model(), tmp_path)
    server.lengths = False
    assert fetch(server.model(), tmp_path / "other").fresh


def test_another_part_than_asked_for_is_not_joined(server: Server, tmp_path: Path) -> None:
    server.sends, server.wrong_part = [100_000], True
    fetch(server.model(), tmp_path)
    assert [wanted for wanted, _ in server.asked] == [None, "bytes=100000-", None]


def test_a_download_that_is_complete_is_not_fetched_again(server: Server, tmp_path: Path) -> None:
    (tmp_path / PART).write_bytes(server.data)
    (tmp_path / VERSION).write_text('"1"')
    fetch(server.model(), tmp_path)
    assert len(server.asked) == 1


def test_what_is_there_and_too_long_is_thrown_away(server: Server, tmp_path: Path) -> None:
    (tmp_path / PART).write_bytes(b"x" * (len(server.data) + 1))
    (tmp_path / VERSION).write_text('"1"')
    fetch(server.model(), tmp_path)
    assert left(tmp_path) == [NAME, SUM]


def test_another_sum_is_refused_and_the_download_thrown_away(
    server: Server, tmp_path: Path
) -> None:
    for model, given in (
        (server.model(b"something else"), None),
        (server.model(), "0" * 64),
    ):
        with pytest.raises(ModelError, match="SHA-256") as caught:
            fetch(model, tmp_path, given=given)
        assert hashlib.sha256(server.data).hexdigest() in str(caught.value)
        assert left(tmp_path) == []


def test_without_a_known_sum_the_earlier_one_counts(server: Server, tmp_path: Path) -> None:
    model = replace(server.model(), sha256=None)
    assert fetch(model, tmp_path).checked == "unchecked"
    shutil.rmtree(tmp_path / NAME)
    assert fetch(model, tmp_path).checked == "recorded"
    shutil.rmtree(tmp_path / NAME)
    server.data = archive({f"{NAME}/new": b"new"})
    with pytest.raises(ModelError, match="--sha256"):
        fetch(model, tmp_path)
    found = hashlib.sha256(server.data).hexdigest()
    assert fetch(model, tmp_path, given=found.upper()).checked == "given"
    assert recorded_sum(tmp_path, NAME) == found
    with pytest.raises(ModelError, match="is installed from an archive"):
        fetch(model, tmp_path, given="0" * 64)


@pytest.mark.parametrize("given", ["", "12", "g" * 64, "0" * 63, "0" * 65])
def test_what_is_no_sum_is_said(server: Server, tmp_path: Path, given: str) -> None:
    with pytest.raises(ModelError, match="64 hexadecimal digits"):
        fetch(server.model(), tmp_path, given=given)
    assert server.asked == []


def test_a_silent_server_is_given_up(server: Server, tmp_path: Path) -> None:
    server.sends = [0, 0]
    with pytest.raises(ModelError, match=r"silent; .*run the command again"):
        fetch(server.model(), tmp_path, stall_s=0.05, tries=2)
    assert NAME not in left(tmp_path)


def test_pauses_grow_and_a_crawling_server_is_given_up(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = count(0, 1_000)
    monkeypatch.setattr(model_download, "time", SimpleNamespace(monotonic=lambda: next(clock)))
    server.ranges = False
    pauses: list[float] = []
    with pytest.raises(ModelError, match="far too slow"):
        # At most 65,536 bytes in each thousand seconds.
        download(
            server.url, tmp_path / PART, lambda _there, _total: None,
            ServerPatience(stall_s=100, tries=3, pause_s=1.0), pauses.append,
        )  # fmt: skip
    assert pauses[-2:] == [1.0, 2.0]


def test_errors_of_the_server(server: Server, tmp_path: Path) -> None:
    server.statuses = [503, 429]
    fetch(server.model(), tmp_path)
    server.statuses = [404]
    with pytest.raises(ModelError, match="404"):
        fetch(server.model(), tmp_path / "other")
    assert len(server.asked) == 4


def test_too_much_is_not_taken(server: Server, tmp_path: Path) -> None:
    server.length = 4 << 30
    with pytest.raises(ModelError, match="more than any model"):
        fetch(server.model(), tmp_path)
    assert left(tmp_path) == []


def test_no_server_at_all(tmp_path: Path) -> None:
    for url, words in (
        ("http://127.0.0.1:9/model.zip", "refused; .*run the command again"),
        ("file:///etc/passwd", "only http and https"),
        ("nothing", "only http and https"),
    ):
        with pytest.raises(ModelError, match=words):
            fetch(Model(NAME, url), tmp_path)


def test_redirects_are_followed_but_not_to_files(server: Server, tmp_path: Path) -> None:
    other = Server(server.data)
    try:
        server.redirect = other.url
        fetch(server.model(), tmp_path)
        server.redirect = "ftp://127.0.0.1/model.zip"
        with pytest.raises(ModelError, match="sends us to"):
            fetch(server.model(), tmp_path / "other")
    finally:
        other.close()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
def test_a_full_disk_is_said(server: Server, tmp_path: Path) -> None:
    (tmp_path / PART).symlink_to("/dev/full")
    with pytest.raises(ModelError, match="free some space"):
        fetch(server.model(), tmp_path)
    assert len(server.asked) == 1


def test_a_disk_that_is_too_small_is_said_first(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = namedtuple("usage", "total used free")
    free = [len(server.data) - 1]
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage(1, 1, free[0]))
    with pytest.raises(ModelError, match="MB are needed"):
        fetch(server.model(), tmp_path)
    assert left(tmp_path) == []
    free[:] = [len(server.data), 0]
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: usage(1, 1, free.pop(0)))
    with pytest.raises(ModelError, match="MB are needed"):
        fetch(server.model(), tmp_path)  # downloaded, but no room to unpack
    assert left(tmp_path) == [PART, VERSION]


@pytest.mark.parametrize(
    "name",
    ["../escape", "/etc/escape", f"{NAME}/../../escape", f"{NAME}\\..\\escape", "C:/escape"],
)
def test_nothing_leaves_its_folder(server: Server, tmp_path: Path, name: str) -> None:
    server.data = archive({name: b"out"})
    with pytest.raises(ModelError, match="outside its folder"):
        fetch(server.model(), tmp_path / "models")
    assert [path.name for path in tmp_path.rglob("*escape*")] == []
    assert left(tmp_path / "models") == []


def _cut(data: bytes) -> bytes:
    middle = len(data) // 2
    return data[:middle] + bytes(100) + data[middle + 100 :]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (archive(link=True), "link"),
        (b"no archive" * 100, "damaged"),
        (_cut(archive()), "damaged"),
        (archive(model="something/else"), "no Vosk model"),
        (archive({"other/file": b""}), "no Vosk model"),
    ],
    ids=["link", "no archive", "bits", "no model", "two folders"],
)
def test_bad_archives_are_refused_and_leave_nothing(
    server: Server, tmp_path: Path, data: bytes, words: str
) -> None:
    server.data = data
    with pytest.raises(ModelError, match=words):
        fetch(replace(server.model(), sha256=None), tmp_path)
    assert left(tmp_path) == []


def test_a_model_that_does_not_load_is_not_put_in_its_place(server: Server, tmp_path: Path) -> None:
    def fails(_folder: Path) -> None:
        raise ModelError("does not load")

    with pytest.raises(ModelError, match="does not load"):
        install(server.model(), tmp_path, lambda _there, _total: None, trial=fails)
    assert left(tmp_path) == []


def _shorten(model: Path) -> None:
    os.truncate(model / "am/final.mdl", 10)


@pytest.mark.parametrize(
    "harm", [_shorten, lambda model: (model / "README").unlink(),
             lambda model: (model / SIZES).write_text("[")],
    ids=["short", "missing", "list"],
)  # fmt: skip
def test_a_damaged_model_is_found_and_replaced(
    server: Server, tmp_path: Path, harm: Callable[[Path], object]
) -> None:
    model = replace(server.model(), name=CATALOGUE[0].name)
    path = fetch(model, tmp_path).path
    harm(path)
    assert installed_names(tmp_path) == []
    with pytest.raises(ModelError, match=f"damaged: sweepsay model install {model.name}"):
        find_model(tmp_path)
    assert fetch(model, tmp_path).fresh
    assert damage(path) == ""


def test_what_is_no_model_is_not_deleted(server: Server, tmp_path: Path) -> None:
    (tmp_path / NAME).mkdir()
    (tmp_path / NAME / "mine").write_bytes(b"")
    with pytest.raises(ModelError, match="holds no model"):
        fetch(server.model(), tmp_path)
    assert (tmp_path / NAME / "mine").exists()


def test_a_folder_that_cannot_be_written(server: Server, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(ModelError, match="cannot store"):
        fetch(server.model(), tmp_path / "file")


def test_names_of_models(tmp_path: Path) -> None:
    assert in_catalogue(None) == CATALOGUE[0] == in_catalogue(CATALOGUE[0].name)
    with pytest.raises(ModelError, match="choose one of"):
        in_catalogue("nothing")
    with pytest.raises(ModelError, match=r"^no Vosk model: sweepsay model install$"):
        find_model(tmp_path / "empty")
    assert all(model.url.startswith("https://") for model in CATALOGUE)


def test_nothing_else_in_the_program_opens_a_connection() -> None:
    root = Path(model_download.__file__).parents[4]
    opens = re.compile(r"^\s*(?:import|from) (?:urllib\.request|http|socket|ssl|ftplib)\b", re.M)
    found = [
        path.name
        for part in ("assistant", "grammar")
        for path in (root / part).rglob("*.py")
        if opens.search(path.read_text(encoding="utf-8"))
    ]
    assert sorted(found) == ["deadline.py", "model_download.py"]
