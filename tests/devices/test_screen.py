"""The screen in a real terminal emulator, and its keys."""

import os
import queue
import re
import subprocess
import sys
from pathlib import Path

import pytest
from prompt_toolkit.data_structures import Size
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput
from prompt_toolkit.output.vt100 import _256ColorCache

from assistant.devices.faults import DeviceFault
from assistant.devices.keys.keypad import Interrupt, Key, Line, Stroke
from assistant.devices.library_noise import library_noise_to
from assistant.devices.screen.palette import THEMES, ThemeName
from assistant.devices.screen.terminal import Screen
from tests.contrast import contrast
from tests.devices.golden_pictures import SWEEP
from tests.devices.tmux_window import MISSING, TmuxWindow

in_a_terminal = pytest.mark.skipif(bool(MISSING), reason=MISSING or "-")


class _Paper(DummyOutput):
    """An output that remembers what was written and says when it has all been seen."""

    def __init__(self) -> None:
        self.written: queue.Queue[str] = queue.Queue()

    def get_size(self) -> Size:
        return Size(rows=24, columns=81)

    def encoding(self) -> str:
        return "utf-8"

    def write(self, data: str) -> None:
        self.written.put(data)

    def until(self, text: str) -> None:
        seen = ""
        while text not in seen:
            seen += self.written.get(timeout=30)


def test_views_are_drawn_and_strokes_are_told() -> None:
    strokes: queue.Queue[Stroke] = queue.Queue()
    paper = _Paper()
    with create_pipe_input() as keys, Screen(strokes.put, source=keys, output=paper) as screen:
        screen.show(SWEEP)
        # Nobody listens yet.
        paper.until("TYPED WORDS AND KEYPAD")
        paper.until("FRONT")
        screen.update(level_db=-10.0, speaking=False)
        paper.until("▮")
        keys.send_text("5\x1bOMback zero\r\x03")
        told = [strokes.get(timeout=30) for _ in range(4)]
    assert told == [Key("5"), Key("enter"), Line("back zero"), Interrupt()]
    # The terminal may go while the job goes on: what is shown then is shown nowhere.
    screen.show(SWEEP)
    screen.update(level_db=-30.0, speaking=True)


def test_without_a_terminal(tmp_path: Path) -> None:
    with (
        (tmp_path / "typed").open("w+") as stream,
        pytest.raises(DeviceFault, match="screen: this is not a terminal; start"),
    ):
        Screen(print, stdin=stream, stdout=stream)


def test_noise_of_libraries_goes_into_a_file(tmp_path: Path) -> None:
    log = tmp_path / "noise.log"
    program = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from assistant.devices.library_noise import library_noise_to\n"
        f"with library_noise_to(Path({str(log)!r})) as terminal:\n"
        "    os.write(2, b'ALSA lib noise')\n"
        "    print('for the person, ', end='', file=terminal)\n"
        "sys.stderr.write('after')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stderr == "for the person, after"
    assert log.read_text() == "ALSA lib noise"
    open_before = len(os.listdir("/proc/self/fd")) if sys.platform == "linux" else 0
    with library_noise_to(log):
        pass
    if sys.platform == "linux":
        assert len(os.listdir("/proc/self/fd")) == open_before


@in_a_terminal
def test_a_sweep_by_keypad_alone() -> None:
    """From the first question to the answer, with nothing but the keypad."""
    with TmuxWindow(["tests.devices.show_screen"]) as window:
        window.wait_for("unplugged")
        window.press(*["KPEnter"] * 4)
        window.wait_for("LISTENING")
        window.wait_for("Lock table")
        window.press("KPEnter")
        window.wait_for("Dial to zero")
        window.press("KPEnter")
        window.wait_for(">RIGHT<")
        window.press("KP+", "KP3", "KP.", "KP5")
        window.wait_for("typed, then Enter")
        window.press("KPEnter")
        seen = window.wait_for(">FRONT<")
        assert "+3.5" in seen
        window.press("KP+", "KP6", "KPEnter")
        window.wait_for(">LEFT<")
        window.press("KP+", "KP2", "KP.", "KP5", "KPEnter")
        window.wait_for(">BACK<")
        window.press("KP0", "KPEnter")
        seen = window.wait_for("HIGH")
        assert "Front high six." in seen
        assert "═" in seen
        window.press("C-c")
        window.wait_for("ended 0")


@in_a_terminal
def test_words_and_keys_together_and_another_size() -> None:
    with TmuxWindow(["tests.devices.show_screen"]) as window:
        window.wait_for("unplugged")
        window.type("yes")
        window.wait_for("> yes")
        window.press("Enter")
        window.wait_for("Chuck key")
        window.press("C-c")
        window.wait_for("ended 0")
    with TmuxWindow(["tests.devices.show_screen"], 40, 12) as window:
        seen = window.wait_for("unplugged")
        assert "KEYPAD" not in seen
        window.resize(100, 30)
        window.wait_for("KEYPAD")
        window.press("Space")
        window.wait_for("SPEAKING")
        window.press("C-c")
        window.wait_for("ended 0")


def _cells(captured: str) -> set[tuple[str, str]]:
    """Colours (letter, ground) of every cell with a character, from the terminal's own output."""
    palette = [f"#{r:02x}{g:02x}{b:02x}" for r, g, b in _256ColorCache().colors]
    letter = ground = ""
    seen: set[tuple[str, str]] = set()
    for codes, text in re.findall(r"(?:\x1b\[([0-9;]*)m)?([^\x1b]*)", captured):
        numbers = [int(code or 0) for code in codes.split(";")]
        match numbers:
            case [38, 5, index]:
                letter = palette[index]
            case [48, 5, index]:
                ground = palette[index]
            case [38, 2, r, g, b]:
                letter = f"#{r:02x}{g:02x}{b:02x}"
            case [48, 2, r, g, b]:
                ground = f"#{r:02x}{g:02x}{b:02x}"
            case [0] if codes:
                letter = ground = ""
        if text.strip():
            seen.add((letter, ground))
    return seen


def _all_codes(captured: str) -> set[int]:
    """Every number in the colour and weight sequences of a captured picture."""
    found = re.findall(r"\x1b\[([0-9;]*)m", captured)
    return {int(code or 0) for codes in found for code in codes.split(";")}


@in_a_terminal
@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"NO_COLOR": "1"}, {0, 1}),
        ({"TERM": "vt100", "COLORTERM": ""}, {0, 1}),
        ({"TERM": "linux", "COLORTERM": ""}, {0, 37, 40, 93, 97, *range(90, 98)}),
    ],
)
def test_a_terminal_of_few_colours_is_drawn_with_those(
    given: dict[str, str], expected: set[int]
) -> None:
    with TmuxWindow(["tests.devices.show_screen"], variables=given) as window:
        window.wait_for("unplugged")
        window.press(*["KPEnter"] * 6)
        window.wait_for(">RIGHT<")
        codes = _all_codes(window.picture(colours=True))
        # 39 and 49 are the terminal's own colours.
        assert codes <= expected | {39, 49}
        assert 1 in codes or 93 in codes, "the number stands out"
        window.press("C-c")
        window.wait_for("ended 0")


@in_a_terminal
@pytest.mark.parametrize("theme", THEMES)
def test_every_cell_can_be_read(theme: ThemeName) -> None:
    """WCAG contrast of what the terminal emulator says that it shows."""
    with TmuxWindow(["tests.devices.show_screen", theme]) as window:
        window.wait_for("unplugged")
        window.press(*["KPEnter"] * 6)
        window.wait_for(">RIGHT<")
        window.press("KP+", "KP3")
        window.wait_for("typed, then Enter")
        seen = _cells(window.picture(colours=True))
        assert len(seen) >= (2 if theme == "high contrast" else 4)
        for letter, ground in seen:
            assert ground == THEMES[theme].ground
            frame = letter in (THEMES[theme].colours["frame"], THEMES[theme].colours["meter"])
            assert contrast(letter, ground) >= (3.0 if frame else 4.5)
        window.press("C-c")
        window.wait_for("ended 0")
