"""A signal that ends the program leaves the terminal as it was, and the record whole.

POSIX, General Terminal Interface (chapter 11): the settings of a terminal outlive the program
that changed them. ECMA-48 and its private modes, as terminals know them: 1049 is the other
screen, 25 the cursor.
"""

import os
import signal
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from assistant.records.journal.journal import Journal

ROOT = Path(__file__).parents[2]
LIMIT_S = 30.0

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no such terminals on Windows")


def _as_usual() -> None:
    for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT):
        signal.signal(number, signal.SIG_DFL)


class Terminal:
    """A terminal of our own (pty(7)), in which the program runs."""

    def __init__(self, *arguments: str) -> None:
        self._ours, self._theirs = os.openpty()
        termios.tcsetwinsize(self._theirs, (24, 80))
        self.before = termios.tcgetattr(self._theirs)
        self.drawn = b""
        self.program = subprocess.Popen(
            [sys.executable, "-m", "assistant", *arguments], cwd=ROOT, stdin=self._theirs,
            stdout=self._theirs, stderr=self._theirs, start_new_session=True,
            env=os.environ | {"TERM": "xterm-256color", "LC_ALL": "C.UTF-8"},
            # Under nohup(1), or begun with "&", the tests and what they start ignore some of them.
            preexec_fn=_as_usual,
        )  # fmt: skip
        os.set_blocking(self._ours, False)

    def wait_for(self, text: bytes) -> None:
        deadline = time.monotonic() + LIMIT_S
        while text not in self.drawn:
            assert time.monotonic() < deadline, self.drawn[-2000:]
            assert self.program.poll() is None, self.drawn[-2000:]
            self._read()
            time.sleep(0.01)

    def wait(self) -> int:
        """Wait for the end of the program, reading on: a full terminal would hold it up."""
        deadline = time.monotonic() + LIMIT_S
        while self.program.poll() is None:
            assert time.monotonic() < deadline, self.drawn[-2000:]
            self._read()
            time.sleep(0.01)
        self._read()
        return self.program.returncode

    def settings(self) -> list[object]:
        return termios.tcgetattr(self._theirs)

    def close(self) -> None:
        if self.program.poll() is None:
            self.program.kill()
            self.program.wait()
        os.close(self._ours)
        os.close(self._theirs)

    def _read(self) -> None:
        try:
            while data := os.read(self._ours, 65_536):
                self.drawn += data
        except BlockingIOError:
            return


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT])
def test_the_terminal_is_as_it_was_and_the_job_is_kept(tmp_path: Path, number: int) -> None:
    record = tmp_path / "jobs.db"
    terminal = Terminal(
        "run", "--no-ask", "--ears", "off", "--voice", "off", "--no-keypad", "--db", str(record)
    )
    try:
        terminal.wait_for(b"unplugged?")
        assert terminal.settings() != terminal.before
        assert b"\x1b[?1049h" in terminal.drawn
        terminal.program.send_signal(number)
        assert terminal.wait() == 128 + number
        assert terminal.settings() == terminal.before
        left = terminal.drawn.rfind(b"\x1b[?1049l")
        assert left > terminal.drawn.rfind(b"\x1b[?1049h") >= 0
        assert terminal.drawn.rfind(b"\x1b[?25h") > terminal.drawn.rfind(b"\x1b[?25l")
        assert b"stopped; every accepted reading is kept" in terminal.drawn[left:]
        assert b"Traceback" not in terminal.drawn
    finally:
        terminal.close()
    with Journal.open(record) as journal:
        assert journal.told() == ()
        assert [job.closed_at for job in journal.unfinished()] == [None]
    # It was closed in order: nothing is left to be brought in.
    assert not record.with_name("jobs.db-wal").exists()


def test_a_terminal_without_the_screen_is_as_it_was(tmp_path: Path) -> None:
    terminal = Terminal(
        "run", "--no-ask", "--ears", "off", "--voice", "off", "--no-keypad", "--no-screen",
        "--db", str(tmp_path / "jobs.db"),
    )  # fmt: skip
    try:
        terminal.wait_for(b"unplugged?")
        assert terminal.settings() != terminal.before
        terminal.program.terminate()
        assert terminal.wait() == 128 + signal.SIGTERM
        assert terminal.settings() == terminal.before
    finally:
        terminal.close()


def test_a_job_of_typed_words_is_ended_in_order(tmp_path: Path) -> None:
    record = tmp_path / "jobs.db"
    with subprocess.Popen(
        [sys.executable, "-m", "assistant", "run", "--no-ask", "--ears", "text", "--voice", "text",
         "--db", str(record)],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as program:  # fmt: skip
        assert program.stdout is not None
        assert program.stdin is not None
        assert program.stderr is not None
        program.stdout.readline()
        program.stdin.write("yes\n")
        program.stdin.flush()
        program.stdout.readline()
        program.terminate()
        assert program.wait(LIMIT_S) == 128 + signal.SIGTERM
        assert program.stderr.read() == "sweepsay: stopped; every accepted reading is kept\n"
    with Journal.open(record) as journal:
        assert [job.events for job in journal.unfinished()] == [2]


def test_a_signal_that_was_swallowed_is_followed_by_one_that_ends_at_once() -> None:
    program = """
import signal, sys, time
import assistant.__main__ as main
main.CLOSED_BY_S = 0.5
with main._signals():
    try:
        print("ready", flush=True)
        time.sleep(60)
    except main.Ended:
        print("swallowed", flush=True)
    time.sleep(60)
"""
    started = subprocess.Popen(
        [sys.executable, "-c", program], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    with started as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "ready\n"
        running.send_signal(signal.SIGTERM)
        assert running.stdout.readline() == "swallowed\n"
        running.send_signal(signal.SIGTERM)
        time.sleep(1)
        assert running.poll() is None
        running.send_signal(signal.SIGTERM)
        assert running.wait(LIMIT_S) == 128 + signal.SIGTERM
