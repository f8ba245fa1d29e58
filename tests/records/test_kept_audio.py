"""Sound is kept only where it was asked for, only of what was said to it, and can be deleted."""

import io
import json
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.__main__ import main
from assistant.bench.wishes import Wishes
from assistant.commands.job import audio_delete, audio_list
from assistant.devices.sound.settings import SoundSettings
from assistant.dialogue import wording
from assistant.dialogue.messages import Heard
from assistant.records.faults import RecordError
from assistant.records.journal import kept_audio
from assistant.records.journal.journal import Journal
from grammar.meaning import Reading
from tests.devices.stand_in_bench import StandInBench

AT = "2031-05-04T08:00:00Z"
HEARD = Heard(AT, 3, "voice", "accept", "plus six", Reading(Decimal(6), True), 0.97)
SOUND = np.arange(-8_000, 8_000, dtype=np.int16)


def test_the_sound_comes_back_with_what_it_became(tmp_path: Path) -> None:
    """Read by soundfile; FLAC is lossless."""
    record = tmp_path / "jobs.db"
    path = kept_audio.keep(record, "job-1", 12, HEARD, SOUND, 16_000)
    assert path == tmp_path / "job-1-audio" / "000012.flac"
    samples, rate = soundfile.read(path, dtype="int16")
    assert rate == 16_000
    assert np.array_equal(samples, SOUND)
    with soundfile.SoundFile(path) as file:
        about = json.loads(file.comment)
        assert file.title == "job job-1, event 12"
    assert about == {
        "job": "job-1", "event": 12, "at": AT, "words": "plus six", "outcome": "accept",
        "confidence": 0.97,
    }  # fmt: skip
    assert path.parent.stat().st_mode & 0o077 == 0


def test_kept_utterances_are_listed_and_deleted(tmp_path: Path) -> None:
    record, out = tmp_path / "jobs.db", io.StringIO()
    for job, number in (("job-1", 3), ("job-1", 4), ("job-2", 9)):
        kept_audio.keep(record, job, number, HEARD, SOUND, 16_000)
    foreign = tmp_path / "job-1-audio" / "notes.txt"
    foreign.write_text("mine")
    (tmp_path / "job-2-audio" / "000010.flac").write_bytes(b"no sound")
    audio_list(record, None, as_json=True, out=out)
    rows = json.loads(out.getvalue())
    assert [(row["job"], row["event"], row["words"], row["seconds"]) for row in rows] == [
        ("job-1", 3, "plus six", 1.0), ("job-1", 4, "plus six", 1.0), ("job-2", 9, "plus six", 1.0),
    ]  # fmt: skip
    audio_delete(record, "job-1", 3, as_json=False, out=out)
    assert [each.event for each in kept_audio.kept(record, "job-1")] == [4]
    audio_delete(record, "job-1", None, as_json=False, out=out)
    assert foreign.read_text() == "mine"
    assert kept_audio.delete(record, "job-2") == 2
    assert not (tmp_path / "job-2-audio").exists()
    with pytest.raises(RecordError, match="no audio is kept of job job-2"):
        kept_audio.delete(record, "job-2")


@pytest.mark.parametrize("job", ["../job-1", "/etc", "", "a/b", "con"])
def test_a_name_that_would_leave_the_folder_is_refused(tmp_path: Path, job: str) -> None:
    for work in (kept_audio.delete, kept_audio.kept):
        with pytest.raises(RecordError, match="job name"):
            work(tmp_path / "jobs.db", job)


def test_the_command_line_lists_and_deletes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = str(tmp_path / "jobs.db")
    kept_audio.keep(tmp_path / "jobs.db", "job-1", 3, HEARD, SOUND, 16_000)
    assert main(["job", "audio", "list", "--db", record]) == 0
    assert "event 3" in capsys.readouterr().out
    assert main(["job", "audio", "delete", "job-1", "--db", record, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"job": "job-1", "deleted": 1}
    assert main(["job", "audio", "delete", "job-1", "--db", record]) == 1
    assert "job audio list" in capsys.readouterr().err


def _keeping(folder: Path) -> StandInBench:
    return StandInBench(folder, Wishes(sound=SoundSettings(headset=True), keep_audio=True))


def test_an_utterance_is_kept_beside_its_event(tmp_path: Path) -> None:
    stand_in = _keeping(tmp_path)
    with stand_in.running():
        stand_in.talk(0.5)
        stand_in.next()
        # Turned down: somebody else's talk.
        stand_in.words = "so I told him"
        stand_in.talk(0.5)
        stand_in.next()
        stand_in.bench.key("enter")
        stand_in.next()
    with Journal.open(stand_in.record, write=False) as journal:
        job = journal.jobs()[0].id
        events = journal.events(job)
    (found,) = kept_audio.kept(stand_in.record, job)
    heard = events[found.event - 1]
    assert isinstance(heard, Heard)
    assert (heard.words, heard.at, heard.outcome) == (found.words, found.at, found.outcome)
    path = kept_audio.folder_of(stand_in.record, job) / f"{found.event:06d}.flac"
    samples, _ = soundfile.read(path, dtype="int16")
    assert np.array_equal(samples, np.full(8_000, 800))
    assert "is kept as sound" in stand_in.err.getvalue()


def test_a_disk_that_does_not_take_the_sound_is_told_once_and_the_job_goes_on(
    tmp_path: Path,
) -> None:
    stand_in = _keeping(tmp_path)
    with stand_in.running() as bench:
        assert bench.loop.state is not None
        kept_audio.folder_of(stand_in.record, bench.loop.state.job).touch()
        for _ in range(2):
            turn = bench.loop.state.turn
            stand_in.talk(0.5)
            assert isinstance(stand_in.next(), Heard)
            assert bench.loop.state.turn == turn + 1
    assert stand_in.out.getvalue().count(f"say: {wording.AUDIO_NOT_KEPT}\n") == 1
