"""The screen as text: golden scenes, any size, and nothing told by colour alone."""

import subprocess
import sys
from dataclasses import replace
from itertools import product
from math import radians, tan
from pathlib import Path

import pytest
from prompt_toolkit.output.vt100 import ANSI_COLORS_TO_RGB, _256ColorCache
from prompt_toolkit.styles import Style
from prompt_toolkit.utils import get_cwidth

from assistant.devices.screen.large_text import (
    COARSE,
    FINE,
    GLYPHS,
    height,
    large,
    largest_scale,
    width,
)
from assistant.devices.screen.palette import (
    ROLES,
    SIXTEEN,
    THEMES,
    Role,
    ThemeName,
    style_rules,
)
from assistant.devices.screen.picture import Moment, meter, picture
from assistant.devices.screen.plain_screen import changes
from assistant.devices.screen.terminal_colours import terminal_colours
from assistant.dialogue.job import JOB
from assistant.dialogue.view import View
from grammar.vocabulary import STATIONS
from tests.contrast import contrast, luminance
from tests.devices.golden_pictures import (
    DEAF,
    GOLDEN,
    LOUD,
    SCENES,
    SHIM,
    SWEEP,
    golden_text,
    text_of,
)
from tests.dialogue.typed import TypedJob

NEEDED: dict[Role, float] = {
    "text": 4.5, "strong": 4.5, "quiet": 4.5, "alert": 4.5,
    "number": 4.5, "frame": 3.0, "meter": 3.0,
}  # fmt: skip
"""Least contrast with the ground: WCAG 2.2, 1.4.3 (text) and 1.4.11 (parts of a picture).

Large text may have 3, but a shop is a poor place to read in.
"""

BEGUN = TypedJob.begin().state
HEADLINES = {row.headline_of(BEGUN) for row in JOB.table.values()}


def test_the_golden_pictures() -> None:
    """After a wanted change: python -m tests.devices.golden_pictures, and look at the diff."""
    assert golden_text() == GOLDEN.read_text(encoding="utf-8")


@pytest.mark.parametrize("fine", [True, False])
def test_any_size_is_filled_exactly(fine: bool) -> None:
    moment = Moment(level_db=-20.0, words="front plus")
    sizes = product((1, 2, 7, 19, 20, 39, 63, 64, 65, 79, 80, 200), (1, 2, 3, 5, 9, 17, 24, 60))
    for columns, rows in sizes:
        for view in (SWEEP, SHIM, LOUD, DEAF, _endless()):
            made = picture(view, moment, columns, rows, fine=fine)
            assert len(made) == rows
            for row in made:
                text = "".join(part for _, part in row)
                assert get_cwidth(text) == len(text) == columns, f"{columns} x {rows}: {text!r}"
                assert {role for role, _ in row} <= set(ROLES)
                assert fine or text.isascii() or "±" in text


def _endless() -> View:
    long = "word " * 200
    return replace(
        SWEEP, step=long, result=long, offers=tuple(long.split()), number="+1234567890.123456789",
        headline="FRONT BACK", machine=long, number_label=long, lost=tuple(long.split()),
    )  # fmt: skip


@pytest.mark.parametrize("columns", [80, 100, 132])
def test_what_matters_is_on_an_ordinary_terminal(columns: int) -> None:
    for view in (SWEEP, SHIM, LOUD, DEAF):
        seen = text_of(picture(view, Moment(level_db=-20.0), columns, 24))
        assert view.step in " ".join(seen.split())
        assert view.caution in " ".join(seen.split())
        assert view.number_label in seen
        assert view.offers[-1] in seen
        for each in view.stations:
            assert each.station.upper() in seen
            assert each.value in seen


def test_headline_and_number_are_large_on_an_ordinary_terminal() -> None:
    """Five rows of 24 are a fifth of a display's height: 4 cm on one of 20 cm."""
    others = {"STOP", "GO ON?", "SURE?", *(station.upper() for station in STATIONS)}
    for headline in {*HEADLINES, *others}:
        assert largest_scale(headline, 80 - 31 - 2, 10) >= 2, headline
    for number in ("+29.75", "-12.5", "±15", "-0.25"):
        assert height(largest_scale(number, 80 - 31 - 2, 10)) >= 5, number


def test_the_high_side_is_told_in_letters_and_lines() -> None:
    for side in STATIONS:
        plain = text_of(picture(replace(SHIM, high=()), Moment(), 80, 24))
        marked = text_of(picture(replace(SHIM, high=(side,)), Moment(), 80, 24))
        assert "HIGH" not in plain
        assert "HIGH" in marked
        assert any(double in marked for double in "═║")
        small = text_of(picture(replace(SHIM, high=(side,)), Moment(), 50, 12))
        assert f"{side} {SHIM.stations[STATIONS.index(side)].value} high" in small


def test_listening_states_differ_in_words() -> None:
    seen = set()
    for view in (SWEEP, LOUD, DEAF, replace(SWEEP, listening="standing by")):
        seen.add(text_of(picture(view, Moment(level_db=-20.0), 80, 24)).split("\n")[0])
    seen.add(text_of(picture(SWEEP, Moment(-20.0, speaking=True), 80, 24)).split("\n")[0])
    assert len(seen) == 5


@pytest.mark.parametrize(
    ("level", "bar"),
    [(None, ""), (-100.0, "-" * 10), (-60.0, "-" * 10), (-30.0, "#####-----"), (0.0, "#" * 10)],
)
def test_the_meter(level: float | None, bar: str) -> None:
    assert meter(level, fine=False) == bar


# -- large letters ---------------------------------------------------------------------------


def test_glyphs_are_whole() -> None:
    for character, rows in GLYPHS.items():
        assert len(rows) == 5
        assert len({len(row) for row in rows}) == 1
        assert set("".join(rows)) <= {"#", "."}, character


def test_no_two_digits_or_signs_look_alike() -> None:
    alike = [GLYPHS[each] for each in "0123456789+-±./?"]
    assert len(set(alike)) == len(alike)


@pytest.mark.parametrize("scale", [1, 2, 3, 4, 7])
def test_large_text_has_its_size_and_its_dots(scale: int) -> None:
    for text in ("+15.5", "FRONT", "0"):
        rows = large(text, scale, FINE)
        assert len(rows) == height(scale)
        assert {len(row) for row in rows} == {width(text, scale)}
        dots = sum(row.count("█") * 2 + row.count("▀") + row.count("▄") for row in rows)
        drawn = sum(row.count("#") for character in text for row in GLYPHS[character])
        assert dots == drawn * scale * scale


def test_large_text_without_blocks() -> None:
    assert large("1", 2, COARSE) == ["  ##  ", "####  ", "  ##  ", "  ##  ", "######"]


def test_what_cannot_be_drawn_large() -> None:
    assert largest_scale("", 80, 10) == 0
    assert largest_scale("ü", 80, 10) == 0
    assert largest_scale("FRONT", 10, 10) == 0


# -- colours ---------------------------------------------------------------------------------


def test_the_arithmetic_of_contrast() -> None:
    """WCAG 2.2: ratios run from 1 to 21. The greys on white are from memory: #767676 is the
    lightest that has 4.5, #777777 has 4.48; #949494 the lightest that has 3."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#123456", "#123456") == 1.0
    assert contrast("#ffffff", "#767676") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert contrast("#949494", "#ffffff") >= 3.0 > contrast("#959595", "#ffffff")
    # The weights of the primaries, IEC 61966-2-1 / ITU-R BT.709.
    assert luminance("#ff0000") == pytest.approx(0.2126)
    assert luminance("#00ff00") == pytest.approx(0.7152)
    assert luminance("#0000ff") == pytest.approx(0.0722)


KERNEL = Path("/sys/module/vt/parameters")


def _linux_console() -> dict[str, str]:
    """The sixteen shades of the Linux console, as the kernel of this machine has them."""
    parts = [
        [int(value) for value in (KERNEL / f"default_{part}").read_text().split(",")]
        for part in ("red", "grn", "blu")
    ]
    order = ("black", "red", "green", "yellow", "blue", "magenta", "cyan", "gray",
             "brightblack", "brightred", "brightgreen", "brightyellow", "brightblue",
             "brightmagenta", "brightcyan", "white")  # fmt: skip
    return {
        f"ansi{name}": "#" + "".join(f"{part[at]:02x}" for part in parts)
        for at, name in enumerate(order)
    }


def _library() -> dict[str, str]:
    """The sixteen shades that prompt_toolkit takes a terminal to have (those of xterm)."""
    return {name: f"#{r:02x}{g:02x}{b:02x}" for name, (r, g, b) in ANSI_COLORS_TO_RGB.items()}


SHADES = {"as xterm": _library} | ({"console": _linux_console} if KERNEL.exists() else {})


@pytest.mark.parametrize("shades", SHADES)
@pytest.mark.parametrize("name", SIXTEEN)
def test_every_pair_of_the_sixteen_can_be_read(name: ThemeName, shades: str) -> None:
    known, theme = SHADES[shades](), SIXTEEN[name]
    assert set(theme.colours) == set(ROLES)
    for role, colour in theme.colours.items():
        needed = 7.0 if name == "high contrast" else NEEDED[role]
        assert contrast(known[colour], known[theme.ground]) >= needed, f"{role} {colour}"


@pytest.mark.parametrize(
    ("environ", "count", "expected"),
    [
        ({"TERM": "xterm-256color"}, 256, "many"),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, 256, "none"),
        ({"TERM": "xterm-256color", "NO_COLOR": ""}, 256, "many"),
        ({"TERM": "xterm"}, 8, "many"),
        ({"TERM": "xterm-16color"}, 16, "sixteen"),
        ({"TERM": "linux"}, 8, "sixteen"),
        ({"TERM": "vt100"}, 0, "none"),
        ({"TERM": "vt100", "COLORTERM": "truecolor"}, 0, "many"),
        ({"TERM": "dumb"}, 256, "none"),
        ({"TERM": "never-heard-of"}, -1, "many"),
        ({}, 0, "many"),
    ],
)
def test_how_many_colours_a_terminal_has(
    environ: dict[str, str], count: int, expected: str
) -> None:
    assert terminal_colours(environ, lambda _name: count) == expected


@pytest.mark.parametrize(("name", "expected"), [("vt100", "none"), ("xterm-256color", "many")])
def test_the_system_s_own_description_of_terminals_is_asked(name: str, expected: str) -> None:
    code = (
        "from assistant.devices.screen.terminal_colours import terminal_colours as told;"
        f"print(told({{'TERM': {name!r}}}))"
    )
    # In a process of its own: a process can ask only once.
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == f"{expected}\n"


@pytest.mark.parametrize("name", THEMES)
def test_every_colour_can_be_read(name: ThemeName) -> None:
    theme = THEMES[name]
    assert set(theme.colours) == set(ROLES) == set(NEEDED)
    for role, colour in theme.colours.items():
        needed = 7.0 if name == "high contrast" else NEEDED[role]
        assert contrast(colour, theme.ground) >= needed, f"{role} {colour} on {theme.ground}"


@pytest.mark.parametrize("name", THEMES)
def test_fewer_colours_change_nothing(name: ThemeName) -> None:
    palette = {f"#{r:02x}{g:02x}{b:02x}" for r, g, b in _256ColorCache().colors}
    theme = THEMES[name]
    assert {theme.ground, *theme.colours.values()} <= palette
    Style.from_dict(style_rules(name))


# -- plain lines -----------------------------------------------------------------------------


def test_plain_lines_tell_what_is_new_and_nothing_twice() -> None:
    assert changes(SWEEP, SWEEP) == []
    first = changes(None, SWEEP)
    assert first == [f"bench drill. {SWEEP.caution}", "Listening."]
    assert changes(SWEEP, LOUD) == ["Too loud: use the keypad.", "Missing: speaker."]
    assert changes(LOUD, SWEEP) == ["Listening.", "Missing: nothing."]
    assert changes(SWEEP, DEAF) == [
        "No microphone: keypad or typing.", "Typed: -1", "Missing: microphone.",
    ]  # fmt: skip
    assert changes(SWEEP, SHIM) == [
        "Sweep 2: back -12.25, right +3, front +12.25, left -3. "
        "Front high twelve. Right high three."
    ]
    assert changes(SHIM, replace(SHIM, phase="tighten", step="Tighten.")) == []


def test_every_scene_is_named_once() -> None:
    assert len(SCENES) == golden_text().count("\n# ") + 1


@pytest.mark.parametrize("headline", sorted(HEADLINES))
def test_the_large_letters_can_be_read_from_two_metres(headline: str) -> None:
    """ISO 9241-303 wants letters of at least 16 minutes of arc (from memory): 9.3 mm at 2 m.

    A laptop's screen is about 170 mm high (from memory), of which a row of 24 has 7 mm.
    """
    row_mm, distance_mm = 170 / 24, 2000.0
    least_rows = distance_mm * tan(radians(16 / 60)) / row_mm
    shown = replace(SWEEP, headline=headline, number="-12.25", number_label="right")
    rows = text_of(picture(shown, Moment(), 79, 24)).split("\n")
    inked = [number for number, row in enumerate(rows) if "█" in row[:50] or "▀" in row[:50]]
    gap = rows.index(next(row for row in rows if row.startswith("right:")))
    assert sum(number < gap for number in inked) > 2 * least_rows
    assert sum(number > gap for number in inked) > 2 * least_rows
