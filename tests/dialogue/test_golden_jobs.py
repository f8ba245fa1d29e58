"""Jobs that were played once still go as they went: the same effects after every event."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from assistant.dialogue.job import JOB
from assistant.dialogue.messages import Effect, Event, Started
from assistant.dialogue.procedures.close import Close
from assistant.records.journal.codec import Json, kind_of
from tests.dialogue.golden_jobs import files
from tests.dialogue.golden_jobs.changes import Change, changes_of, listed
from tests.dialogue.golden_jobs.people import PLAYED
from tests.dialogue.golden_jobs.scripts import SCRIPTS

MEANT = "\nif that is meant: python -m tests.dialogue.golden_jobs writes it down"


_read = cache(files.read)


@pytest.mark.parametrize("name", files.names())
def test_a_job_goes_as_it_went(name: str) -> None:
    changes = changes_of(_read(name))
    assert not changes, listed(changes) + MEANT


def test_every_job_that_was_thought_out_has_a_file() -> None:
    assert {*PLAYED, *SCRIPTS} <= set(files.names())


def test_the_jobs_come_to_every_phase_kind_method_dial_event_and_effect() -> None:
    """A rebuilt corner must stand in one of them."""
    jobs = [_read(name) for name in files.names()]
    rows = [row for job in jobs for after in job.effects for row in after]
    listened = {row["phase"] for row in rows if row["kind"] == "listen"}
    assert listened >= {phase for phase in JOB.table if phase is not Close.CLOSED}
    assert {row["kind"] for row in rows} == set(_kinds(Effect))
    events = [event for job in jobs for event in job.events]
    assert {type(event) for event in events} == set(_classes(Event))
    profiles = [event.profile for event in events if isinstance(event, Started)]
    assert {profile.kind for profile in profiles} == {"bolted", "pinned", "free", "head", "packed"}
    assert {profile.method for profile in profiles} == {"indicator", "gap", "square", "touch"}
    assert {profile.instrument.face for profile in profiles} == {"balanced", "continuous"}
    assert {profile.instrument.higher for profile in profiles} == {"plus", "minus", "ask"}
    assert {profile.scale.system for profile in profiles} == {"thou", "mm"}
    assert sum(row == {"kind": "closed", "finished": True} for row in rows) >= 40


def test_a_written_job_is_read_back(tmp_path: Path) -> None:
    job = files.read("script-devices")
    files.write(job, tmp_path)
    assert files.read("script-devices", tmp_path) == job
    text = (files.FOLDER / "script-devices.jsonl").read_text(encoding="ascii")
    assert (tmp_path / "script-devices.jsonl").read_text(encoding="ascii") == text


def test_what_changed_is_listed_with_its_job_event_before_and_after() -> None:
    job = files.read("script-front-to-back")
    say = {"kind": "say", "text": "Is it off?"}
    changed = replace(job, effects=((say, *job.effects[0][1:]), *job.effects[1:]))
    (change,) = changes_of(changed)
    assert change.where == "say.text"
    text = listed([change, replace(change, job="another")])
    assert text.startswith("2 changes, 1 different ones\nscript-front-to-back, event 1 (started)")
    assert "and 1 more" in text
    assert "before  Is it off?\n    after   Is the machine unplugged?" in text


def test_an_effect_that_is_gone_or_new_is_one_change() -> None:
    job = files.read("script-front-to-back")
    tone: Json = {"kind": "tone", "name": "asked"}
    more = replace(job, effects=(job.effects[0], (tone, *job.effects[1]), *job.effects[2:]))
    less = replace(job, effects=(job.effects[0], job.effects[1][1:], *job.effects[2:]))
    assert [(one.event, one.before, one.after) for one in changes_of(more)] == [
        (2, json.dumps(tone, separators=(",", ":")), "-")
    ]
    assert [(one.event, one.before) for one in changes_of(less)] == [(2, "-")]


def test_a_last_digit_is_no_change_and_a_thousandth_is() -> None:
    job = files.read("script-front-to-back")
    number, answered = next(
        (n, row) for n, after in enumerate(job.effects) for row in after if row["kind"] == "result"
    )

    def with_tilt(times: float) -> list[Change]:
        answer = {**answered["answer"], "tilt": answered["answer"]["tilt"] * times}
        rows = [
            {**row, "answer": answer} if row is answered else row for row in job.effects[number]
        ]
        return changes_of(
            replace(job, effects=(*job.effects[:number], tuple(rows), *job.effects[number + 1 :]))
        )

    assert with_tilt(1 + 1e-9) == []
    assert [one.where for one in with_tilt(1.001)] == ["result.answer.tilt"]


def _classes(union: Any) -> tuple[type, ...]:
    return tuple(union.__args__)


def _kinds(union: Any) -> list[str]:
    return [kind_of(each) for each in _classes(union)]
