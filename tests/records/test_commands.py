"""`job` and `machine`: what they print, write and refuse."""

import csv
import io
import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from assistant.commands import job as job_command
from assistant.commands import machine as machine_command
from assistant.dialogue.machine import Profile
from assistant.metrology.lengths import Length
from assistant.records.faults import RecordError
from assistant.records.machines.folder import Shelf
from assistant.records.machines.machine_settings import set_keys
from assistant.records.machines.machine_toml import read_profile, write_profile
from assistant.records.readings.toml_reader import ProfileError
from tests.records.jobs import corrected, record, rehearsed


class Shell:
    """Two streams that remember what was written."""

    def __init__(self) -> None:
        self.out = io.StringIO()
        self.err = io.StringIO()

    @property
    def printed(self) -> str:
        return self.out.getvalue()

    @property
    def complained(self) -> str:
        return self.err.getvalue()


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("record") / "jobs.db"
    record(path, rehearsed(1).events, rehearsed(2, "mm").events)
    record(path, corrected(), close=False)
    return path


# -- job -----------------------------------------------------------------------------------


def test_list_shows_every_job(full: Path) -> None:
    shell = Shell()
    assert job_command.job_list(full, as_json=False, out=shell.out, err=shell.err) == 0
    lines = shell.printed.splitlines()
    assert [line.split()[0] for line in lines] == ["job-1", "job-2", "job-corrected"]
    assert ["closed" in line for line in lines] == [True, True, False]
    assert shell.complained == ""
    shell = Shell()
    job_command.job_list(full, as_json=True, out=shell.out, err=shell.err)
    rows = json.loads(shell.printed)
    assert [row["events"] for row in rows] == [
        len(rehearsed(1).events), len(rehearsed(2, "mm").events), len(corrected())]  # fmt: skip


def test_show_tells_a_job_in_full(full: Path) -> None:
    shell = Shell()
    assert job_command.job_show(full, "job-1", as_json=False, out=shell.out, err=shell.err) == 0
    answer = rehearsed(1).state.as_found
    assert answer is not None
    assert f"tilt {answer.tilt:.1f} ± {answer.expanded_uncertainty:.1f} thou" in shell.printed
    assert shell.printed.index("\nas found") < shell.printed.index("\nas left")
    assert "Square within 4 thou over 10 in." in shell.printed


def test_show_without_a_name_takes_the_newest(full: Path) -> None:
    shell = Shell()
    job_command.job_show(full, None, as_json=False, out=shell.out, err=shell.err)
    assert "job            job-corrected" in shell.printed
    assert "taken back     sweep 1, right +3.0: correction" in shell.printed


def test_a_beginning_of_a_name_is_enough_if_it_is_the_only_one(full: Path) -> None:
    shell = Shell()
    job_command.job_show(full, "job-c", as_json=True, out=shell.out, err=shell.err)
    assert json.loads(shell.printed)["job"] == "job-corrected"
    for name, says in (("job", "3 jobs begin"), ("nope\x1b[2J", "no job"), ("", "no job")):
        with pytest.raises(RecordError, match=says) as caught:
            job_command.job_show(full, name, as_json=False, out=shell.out, err=shell.err)
        assert caught.value.code == "no_job"
        assert str(caught.value).isprintable()


def test_report_writes_page_and_paper(full: Path, tmp_path: Path) -> None:
    shell = Shell()
    target = tmp_path / "wall"
    job_command.job_report(full, "job-1", target, as_json=False, out=shell.out, err=shell.err)
    page, paper = (Path(line) for line in shell.printed.splitlines())
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert len(PdfReader(paper).pages) >= 2
    assert sorted(path.name for path in target.iterdir()) == ["job-1.html", "job-1.pdf"]
    shell = Shell()
    job_command.job_report(full, "job-1", target, as_json=True, out=shell.out, err=shell.err)
    assert json.loads(shell.printed)["html"] == str(page)


def test_export_and_import_through_the_commands(full: Path, tmp_path: Path) -> None:
    shell, target = Shell(), tmp_path / "job.json"
    job_command.job_export(full, "job-1", "json", target, out=shell.out, err=shell.err)
    assert shell.printed == ""
    job_command.job_export(full, "job-1", "json", None, out=shell.out, err=shell.err)
    assert shell.printed == target.read_text(encoding="utf-8")
    other, shell = tmp_path / "other.db", Shell()
    job_command.job_import(other, target, as_json=False, out=shell.out, err=shell.err)
    assert f"{len(rehearsed(1).events)} events" in shell.printed
    shell = Shell()
    job_command.job_export(other, None, "json", None, out=shell.out, err=shell.err)
    assert shell.printed == target.read_text(encoding="utf-8")
    shell = Shell()
    job_command.job_export(full, "job-1", "csv", None, out=shell.out, err=shell.err)
    rows = list(csv.DictReader(io.StringIO(shell.printed, newline="")))
    assert len(rows) == sum(len(sweep.readings) for sweep in rehearsed(1).state.sweeps)


def test_a_file_that_is_no_export_is_one_error(tmp_path: Path) -> None:
    shell, source = Shell(), tmp_path / "x.json"
    for exists in (False, True):
        if exists:
            source.mkdir()
        with pytest.raises(RecordError) as caught:
            job_command.job_import(
                tmp_path / "jobs.db", source, as_json=False, out=shell.out, err=shell.err
            )
        assert caught.value.code == "bad_input"
    assert not (tmp_path / "jobs.db").exists()


def test_without_a_record_the_person_hears_how_to_make_one(tmp_path: Path) -> None:
    shell, missing = Shell(), tmp_path / "none.db"
    with pytest.raises(RecordError, match="sweepsay run"):
        job_command.job_list(missing, as_json=False, out=shell.out, err=shell.err)
    assert list(tmp_path.iterdir()) == []


def test_a_damaged_record_is_rescued_and_told(tmp_path: Path) -> None:
    path, shell = tmp_path / "jobs.db", Shell()
    record(path, rehearsed(1).events, close=False)
    data = bytearray(path.read_bytes())
    data[100:4096] = bytes(3996)
    path.write_bytes(data)
    assert job_command.job_list(path, as_json=False, out=shell.out, err=shell.err) == 0
    assert "the record was damaged and is set aside" in shell.complained
    assert shell.complained.count("\n") == 1


def test_a_damaged_job_is_shown_as_far_as_it_goes(tmp_path: Path) -> None:
    path, shell = tmp_path / "jobs.db", Shell()
    record(path, rehearsed(1).events)
    data = path.read_bytes()
    place = data.index(b'"turn":20,')
    path.write_bytes(data[:place] + b'"turn":21,' + data[place + 10 :])
    assert job_command.job_show(path, None, as_json=False, out=shell.out, err=shell.err) == 0
    assert "cannot be read: its check sum is wrong" in shell.complained
    assert "as found" in shell.printed


def test_names_from_outside_cannot_steer_the_terminal(tmp_path: Path) -> None:
    path, shell = tmp_path / "jobs.db", Shell()
    document = json.loads(_exported(tmp_path))
    document["machine"] = document["started_at"] = "\x1b]0;owned\x07\x1b[2J\u202e\r\n"
    document["events"][0]["at"] = "\x1b[31m"
    (tmp_path / "bad.json").write_text(json.dumps(document), encoding="utf-8")
    job_command.job_import(path, tmp_path / "bad.json", as_json=False, out=shell.out, err=shell.err)
    job_command.job_list(path, as_json=False, out=shell.out, err=shell.err)
    job_command.job_show(path, None, as_json=False, out=shell.out, err=shell.err)
    for line in shell.printed.splitlines():
        assert line.isprintable()


def _exported(folder: Path) -> str:
    shell, path = Shell(), folder / "source.db"
    record(path, rehearsed(3).events)
    job_command.job_export(path, None, "json", None, out=shell.out, err=shell.err)
    return shell.printed


# -- machine -------------------------------------------------------------------------------


def test_a_machine_is_made_listed_shown_and_changed(tmp_path: Path) -> None:
    folder, shell = tmp_path / "machines", Shell()
    machine_command.machine_list(folder, as_json=False, out=shell.out, err=shell.err)
    assert "machine new" in shell.printed
    code = machine_command.machine_new(
        folder, "Shop mill", layout="knee mill", units="metric",
        settings=["tolerance=0.02", "shim.max_leaves=2"], out=shell.out,
    )  # fmt: skip
    assert code == 0
    profile = Shelf(folder).load("shop mill")
    assert profile.tolerance == Length.of("0.02", "mm")
    assert profile.max_leaves == 2
    shell = Shell()
    machine_command.machine_list(folder, as_json=False, out=shell.out, err=shell.err)
    assert "shop-mill" in shell.printed
    assert "0.02 mm" in shell.printed
    shell = Shell()
    machine_command.machine_show(folder, "shop mill", as_json=False, out=shell.out)
    assert read_profile(shell.printed, "x") == profile
    shell = Shell()
    machine_command.machine_show(folder, "shop mill", as_json=True, out=shell.out)
    assert json.loads(shell.printed)["max_leaves"] == 2
    machine_command.machine_edit(folder, "shop mill", ["span = 90 mm"], out=shell.out)
    assert Shelf(folder).load("shop mill").span == Length.of(90, "mm")


def test_a_broken_profile_does_not_hide_the_others(tmp_path: Path) -> None:
    shell, shelf = Shell(), Shelf(tmp_path)
    shelf.save(Profile(name="good"))
    (tmp_path / "bad.toml").write_text("name = [", encoding="utf-8")
    code = machine_command.machine_list(tmp_path, as_json=False, out=shell.out, err=shell.err)
    assert code == 1
    assert "good" in shell.printed
    assert "bad.toml, line 1" in shell.complained


INTERVIEW = "2\nFloor drill\nmetric\n\n0.08 mm\n40\n60 mm\n"


def test_a_short_interview_makes_a_machine(tmp_path: Path) -> None:
    shell = Shell()
    machine_command.machine_new(tmp_path, None, asked=io.StringIO(INTERVIEW), out=shell.out)
    profile = Shelf(tmp_path).load("floor drill")
    assert profile.scale.system == "mm"
    assert profile.sweep_diameter == Length.of(300, "mm")
    assert profile.tolerance == Length.of("0.08", "mm")
    assert profile.scale.reach == 40
    assert profile.span == Length.of(60, "mm")
    questions = shell.printed.count(": ")
    assert questions < 20


def test_a_wrong_answer_is_asked_again(tmp_path: Path) -> None:
    shell = Shell()
    answers = "9\n1\n\nfurlongs\ninch\nten\n8 in\n-1\n3\n30\n\n"
    machine_command.machine_new(tmp_path, None, asked=io.StringIO(answers), out=shell.out)
    profile = Shelf(tmp_path).load("bench drill press")
    assert profile.sweep_diameter == Length.of(8, "in")
    assert profile.tolerance == Length.of(3, "thou")
    assert profile.span is None
    assert "write a number and a unit" in shell.printed
    assert "use something from" in shell.printed


@pytest.mark.parametrize("count", range(7))
def test_answers_that_end_too_soon_make_nothing(tmp_path: Path, count: int) -> None:
    shell = Shell()
    answers = "".join(f"{line}\n" for line in INTERVIEW.splitlines()[:count])
    with pytest.raises(RecordError, match="nothing was made"):
        machine_command.machine_new(tmp_path, None, asked=io.StringIO(answers), out=shell.out)
    assert list(tmp_path.iterdir()) == []


def test_new_without_anything_says_what_there_is(tmp_path: Path) -> None:
    shell = Shell()
    with pytest.raises(RecordError, match="knee mill"):
        machine_command.machine_new(tmp_path, "mill", out=shell.out)
    with pytest.raises(RecordError, match="knee mill"):
        machine_command.machine_new(tmp_path, "mill", layout="lathe", out=shell.out)
    with pytest.raises(RecordError, match="tolerance"):
        machine_command.machine_new(
            tmp_path, "mill", layout="knee mill", settings=["tolerance=none"], out=shell.out
        )
    assert list(tmp_path.iterdir()) == []


def test_an_editor_changes_the_file_only_if_it_can_be_used(tmp_path: Path) -> None:
    shell, shelf = Shell(), Shelf(tmp_path)
    path = shelf.save(Profile(name="mill"))

    def write(text: str, code: int = 0) -> machine_command.Editor:
        def edit(copy: Path) -> int:
            assert read_profile(copy.read_text(encoding="utf-8"), "x").name == "mill"
            copy.write_text(text, encoding="utf-8")
            return code

        return edit

    before = path.read_bytes()
    for editor in (write("name = ["), write(write_profile(Profile(name="mill", max_leaves=1)), 1)):
        with pytest.raises(RecordError):
            machine_command.machine_edit(tmp_path, "mill", [], editor=editor, out=shell.out)
        assert path.read_bytes() == before
    good = "# mine\n" + write_profile(Profile(name="mill", max_leaves=1))
    machine_command.machine_edit(tmp_path, "mill", [], editor=write(good), out=shell.out)
    assert path.read_text(encoding="utf-8") == good
    with pytest.raises(RecordError, match="--set"):
        machine_command.machine_edit(tmp_path, "mill", [], out=shell.out)


def test_a_machine_that_is_renamed_moves_to_its_new_file(tmp_path: Path) -> None:
    shell, shelf = Shell(), Shelf(tmp_path)
    shelf.save(Profile(name="mill"))
    shelf.save(Profile(name="drill"))
    machine_command.machine_edit(tmp_path, "mill", ["name=Big mill"], out=shell.out)
    assert shelf.names() == ("big-mill", "drill")
    with pytest.raises(RecordError, match="already"):
        machine_command.machine_edit(tmp_path, "big mill", ["name=drill"], out=shell.out)
    assert shelf.names() == ("big-mill", "drill")


def test_settings_keep_the_comments() -> None:
    text = write_profile(Profile(name="mill"))
    changed = set_keys(
        text, ['name=a "b" # c', "stock=1, 2.5 ,3", "span=3 in", "noise.relock_sd=0.25", "reach=40"]
    )
    profile = read_profile(changed, "x")
    assert profile.name == 'a "b" # c'
    assert [str(leaf) for leaf in profile.stock] == ["1", "2.5", "3"]
    assert profile.span == Length.of(3, "in")
    assert str(profile.relock_sd) == "0.25"
    assert profile.scale.reach == 40
    comments = [line.partition("#")[2] for line in text.splitlines() if "  # " in line]
    assert all(comment in changed for comment in comments)


def test_settings_into_tables_that_are_not_there() -> None:
    text = 'name = "mill"\nsweep_diameter = "8 in"\ntolerance = "2"\n[shim]\nstock = []\n'
    changed = set_keys(text, ["noise.reading_sd=0.3", "step=0.1", "method=gap"])
    profile = read_profile(changed, "x")
    assert (str(profile.reading_sd), str(profile.scale.step), profile.method) == (
        "0.3",
        "0.1",
        "gap",
    )


def test_a_list_over_several_lines_is_replaced_whole() -> None:
    text = write_profile(Profile(name="mill"))
    begin, _, rest = text.partition("stock = [")
    leaves, _, rest = rest.partition("]")
    lines = leaves.replace(", ", ",\n  ")
    spread = f"{begin}stock = [  # thin ones first\n  {lines},\n]{rest}"
    assert read_profile(spread, "x").stock == Profile().stock
    changed = set_keys(spread, ["stock=1, 2"])
    assert [str(leaf) for leaf in read_profile(changed, "x").stock] == ["1", "2"]
    assert changed.count("\n") < spread.count("\n")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('name = "mill"\nstock = [\n', "mine, line 2: "),
        ('name = "mill"\nname = "mill"\n', "mine, line 2: "),
        ('name = "mill"\n\nnoise = 3\n', "mine, line 3: "),
    ],
)
def test_a_file_that_cannot_be_read_says_its_line_when_a_key_is_to_be_set(
    text: str, said: str
) -> None:
    with pytest.raises(ProfileError) as caught:
        set_keys(text, ["noise.reading_sd=1"], "mine")
    assert str(caught.value).startswith(said)


@pytest.mark.parametrize("setting", ["x=1", "shim.reach=3", "reach", "=3", "shim.=3", "a\x1b[2J=1"])
def test_unknown_settings_are_one_error(setting: str) -> None:
    with pytest.raises(ProfileError) as caught:
        set_keys(write_profile(Profile()), [setting])
    assert str(caught.value).isprintable()
