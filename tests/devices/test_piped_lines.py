"""Lines of a pipe at the live bench: each answers what is asked when its turn comes."""

import io
from pathlib import Path

import pytest

from assistant.bench.session import run_live
from assistant.bench.wishes import Wishes
from assistant.devices.ears.hearing import Recogniser
from assistant.dialogue.machine import Profile

READY = "yes\nyes\nyes\nyes\nlocked\nzeroed\n"


def _nobody_listens() -> Recogniser:
    raise AssertionError("the ears are off")


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("+3\nfront plus six\n", ["Right plus three. Front?", "Front plus six. Left?"]),
        ("+3\n//\n", ["Right plus three. Front?", "Right taken back. Right?"]),
        ("key: +\nkey: 4\nkey: enter\n", ["Right plus four. Front?"]),
    ],
    ids=["a key line and words", "two keys in one line", "keys by name"],
)
def test_no_line_is_lost_however_fast_they_come(
    tmp_path: Path, lines: str, said: list[str]
) -> None:
    out = io.StringIO()
    wishes = Wishes(ears="off", voice="text", keypad=False)
    code = run_live(
        Profile(), tmp_path / "jobs.db", wishes, _nobody_listens,
        stdin=io.StringIO(READY + lines), stdout=out, stderr=io.StringIO(),
    )  # fmt: skip
    assert code == 0
    assert out.getvalue().splitlines()[-len(said) :] == [f"say: {text}" for text in said]


def test_what_follows_the_end_of_a_job_is_left_alone(tmp_path: Path) -> None:
    out = io.StringIO()
    wishes = Wishes(ears="off", voice="text", keypad=False)
    lines = io.StringIO(READY + "stop\nyes\n+3\n+4\n")
    code = run_live(
        Profile(), tmp_path / "jobs.db", wishes, _nobody_listens, stdin=lines, stdout=out,
        stderr=io.StringIO(),
    )  # fmt: skip
    assert code == 0
    assert "plus three" not in out.getvalue()
