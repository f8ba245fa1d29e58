"""A real terminal emulator for tests: a program in tmux, its keys and its picture."""

import os
import shlex
import shutil
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType

ROOT = Path(__file__).parents[2]

MISSING = "" if shutil.which("tmux") else "tmux not installed (apt install tmux)"


class TmuxWindow:
    """A server of our own with one window, in which a Python module runs."""

    def __init__(
        self,
        module: Sequence[str],
        width: int = 80,
        height: int = 24,
        home: Path | None = None,
        variables: Mapping[str, str] | None = None,
    ) -> None:
        self._name = f"test-{uuid.uuid4().hex[:8]}"
        # Inside the window, since tmux gives the terminal's own variables their values.
        given = [f"{name}={value}" for name, value in (variables or {}).items()]
        command = shlex.join(["env", *given, sys.executable, "-m", *module])
        environment = {**os.environ, "LANG": "C.UTF-8", "LC_ALL": "C.UTF-8"}
        environment.pop("TMUX", None)
        if home is not None:
            # Machines and records are looked for here, and not at home.
            environment |= {"XDG_CONFIG_HOME": str(home), "XDG_DATA_HOME": str(home)}
        self._environment = environment
        # The window stays when the program ends, so that its last words can be read.
        self._tmux(
            "-f", "/dev/null", "new-session", "-d", "-x", str(width), "-y", str(height),
            f"{command}; echo ended $?; exec cat",
        )  # fmt: skip

    def __enter__(self) -> "TmuxWindow":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._tmux("kill-server")

    def press(self, *keys: str) -> None:
        """Press keys by tmux's names: KP7, KPEnter, Home, or characters."""
        self._tmux("send-keys", *keys)

    def type(self, text: str) -> None:
        """Type characters as they are."""
        self._tmux("send-keys", "-l", text)

    def resize(self, width: int, height: int) -> None:
        """Change the size of the window."""
        self._tmux("resize-window", "-x", str(width), "-y", str(height))

    def picture(self, *, colours: bool = False) -> str:
        """What is on the screen now; with its escape sequences if asked."""
        return self._tmux("capture-pane", "-p", *(["-e"] if colours else []))

    def wait_for(self, there: str | Callable[[str], bool], limit_s: float = 20.0) -> str:
        """Wait until a text (or what a function looks for) is on the screen."""
        deadline = time.monotonic() + limit_s
        while True:
            seen = self.picture()
            if (there in seen) if isinstance(there, str) else there(seen):
                return seen
            assert time.monotonic() < deadline, f"waited for {there!r}, saw:\n{seen}"
            time.sleep(0.01)

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self._name, "-u", *words], env=self._environment, cwd=ROOT,
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        return done.stdout
