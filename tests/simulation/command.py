"""The real command in a process of its own, and a simulated person who answers it."""

import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

from assistant.simulation.caller import Operator
from tests.simulation.json_lines import react_to_json

ROOT = Path(__file__).parent.parent.parent

LONGEST_S = 60.0
"""A run that takes longer hangs: it is ended, and the test fails on what it printed."""


class Command:
    """``sweepsay run`` with typed ears and JSON on its output."""

    def __init__(self, record: Path) -> None:
        self.rows: list[dict[str, Any]] = []
        self._process = subprocess.Popen(
            [
                sys.executable, "-m", "assistant", "run", "--ears", "text", "--voice", "text",
                "--json", "--db", str(record),
            ],
            cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        self._watch = threading.Timer(LONGEST_S, self._process.kill)
        self._watch.start()

    def __enter__(self) -> "Command":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()

    def kill(self) -> None:
        """End it at once, without a chance to tidy up."""
        self._watch.cancel()
        self._process.kill()
        self._process.communicate()

    def __iter__(self) -> Iterator[dict[str, Any]]:
        """Its lines as they come, until it ends."""
        assert self._process.stdout is not None
        for line in self._process.stdout:
            row: dict[str, Any] = json.loads(line)
            self.rows.append(row)
            yield row

    def type(self, words: str) -> None:
        """One line on its input."""
        assert self._process.stdin is not None
        self._process.stdin.write(words + "\n")
        self._process.stdin.flush()

    def end(self) -> int:
        """No more will be typed; returns the exit code."""
        self._process.communicate(timeout=LONGEST_S)
        self._watch.cancel()
        return self._process.returncode

    def said(self) -> list[str]:
        """Everything that was said so far."""
        return [row["text"] for row in self.rows if row.get("effect") == "say"]

    def play(self, person: Operator, calls: int) -> int:
        """Let the person answer so many times at most; returns how often they did."""
        answered = 0
        for row in self:
            words = react_to_json(person, row)
            if row.get("effect") == "closed":
                break
            if words is None:
                continue
            if answered == calls:
                break
            self.type(words)
            answered += 1
        return answered
