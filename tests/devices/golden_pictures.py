"""Scenes for the golden file of pictures; run as a module to write the file again.

They are made of plain views, so that the dialogue's wording does not matter here.
"""

from dataclasses import replace
from pathlib import Path

from assistant.devices.screen.palette import StyledLine
from assistant.devices.screen.picture import Moment, picture
from assistant.dialogue.view import StationView, View

GOLDEN = Path(__file__).with_name("pictures.txt")

SWEEP = View(
    machine="bench drill",
    unit="thou",
    phase="sweep",
    sweep=2,
    headline="FRONT",
    number="-2.5",
    number_label="right, the last reading",
    step="Front?",
    said="Right minus two and a half. Front?",
    stations=(
        StationView("back", "0", "read"),
        StationView("right", "-2.5", "read"),
        StationView("front", "", "awaited"),
        StationView("left", "", "missing"),
    ),
    high=(),
    result="Front high six. Side to side too small to read.",
    result_is_old=True,
    listening="listening",
    offers=("front plus or minus a number", "correction", "disregard", "say again", "status"),
    entry="",
    lost=(),
)

ALL_READ = (
    StationView("back", "-12.25", "read"),
    StationView("right", "+3", "read"),
    StationView("front", "+12.25", "read"),
    StationView("left", "-3", "read"),
)

SHIM_ASKED = (
    "Shim three and a half above the bolt. Leaves one and a half and two. Fingers clear. Done?"
)
SHIM = replace(
    SWEEP, phase="shim", headline="SHIM", number="3.5", number_label="shim above the bolt",
    step=SHIM_ASKED,
    said=SHIM_ASKED,
    stations=ALL_READ, high=("front", "right"), result="Front high twelve. Right high three.",
    result_is_old=False, offers=("shim, a number, above or below", "done", "skip"),
)  # fmt: skip

ASKED = replace(
    SWEEP, number="±15", number_label="plus or minus?", step="Plus or minus fifteen?",
    said="Once more, then.",
    stations=(*SWEEP.stations[:2], StationView("front", "+6", "asked again"), SWEEP.stations[3]),
)  # fmt: skip

LOUD = replace(SWEEP, listening="too loud", lost=("speaker",))
DEAF = replace(SWEEP, listening="no microphone", lost=("microphone",), entry="-1", number="-1")
CLOSED = replace(
    SHIM, phase="closed", headline="DONE", number="", number_label="", listening="closed",
    step="Was twelve and a half, now one.", offers=(), high=("back",),
    said="Was twelve and a half, now one. Report written.",
)  # fmt: skip

QUIET = Moment(level_db=-42.0)

SCENES: dict[str, tuple[View, Moment, int, int, bool]] = {
    "sweep, 80 x 24": (SWEEP, Moment(level_db=-18.0), 80, 24, True),
    "sweep, 120 x 40, speaking": (SWEEP, Moment(level_db=-6.0, speaking=True), 120, 40, True),
    "shim, two sides high": (SHIM, QUIET, 80, 24, True),
    "shim in plain characters": (SHIM, QUIET, 80, 24, False),
    "asked again, words being typed": (ASKED, Moment(-42.0, words="plus fift"), 80, 24, True),
    "keyed a moment ago": (SWEEP, Moment(hears=False, keyed="right -2.5"), 80, 24, True),
    "too loud, speaker lost": (LOUD, QUIET, 80, 24, True),
    "no microphone, keypad": (DEAF, Moment(hears=False), 80, 24, True),
    "closed, back high": (CLOSED, Moment(-42.0, leaves=True), 80, 24, True),
    "left high": (replace(SHIM, high=("left",)), QUIET, 80, 24, True),
    "small display, 40 x 12": (SWEEP, QUIET, 40, 12, True),
    "smallest display, 20 x 5": (SWEEP, QUIET, 20, 5, True),
}


def text_of(made: list[StyledLine]) -> str:
    """The characters of a picture, without trailing space."""
    return "\n".join("".join(text for _, text in row).rstrip() for row in made)


def golden_text() -> str:
    """Every scene, framed so that its size is seen."""
    parts = []
    for name, (shown, moment, columns, rows, fine) in SCENES.items():
        lines = text_of(picture(shown, moment, columns, rows, fine=fine)).split("\n")
        framed = "\n".join(f"|{line:<{columns}}|" for line in lines)
        parts.append(f"# {name}\n+{'-' * columns}+\n{framed}\n+{'-' * columns}+\n")
    return "\n".join(parts)


if __name__ == "__main__":
    GOLDEN.write_text(golden_text(), encoding="utf-8")
