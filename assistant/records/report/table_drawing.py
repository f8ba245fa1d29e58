"""The table seen from above as SVG: stations, readings, the high side."""

from collections.abc import Mapping
from math import cos, radians, sin

from assistant.metrology.answer import Answer
from assistant.records.report.markup import Child, Markup, join, tag
from assistant.records.report.palette import AXIS, HIGH, INK, LOW, MUTED
from assistant.records.report.wording import Words, bearing_words
from grammar.vocabulary import Station

SIZE = 320.0
_MIDDLE = SIZE / 2
_HALF_TABLE = 130.0
_SWEEP = 60.0
_SHORTEST = 22.0
_ANCHOR: dict[Station, str] = {"back": "middle", "right": "start", "front": "middle", "left": "end"}
_BEARING: dict[Station, float] = {"back": 0.0, "right": 90.0, "front": 180.0, "left": 270.0}


def table_drawing(
    name: str, answer: Answer, readings: Mapping[Station, str], largest: float, words: Words
) -> Markup:
    """A drawing of one sweep. ``name`` is a word that is unique on the page; ``largest``: the
    tilt, in counts, whose arrow reaches the sweep circle, so that drawings can be compared."""
    bearing = answer.high_bearing_deg
    title = f"Table from above, {name}: {words.front_to_back(answer)}; {words.side_to_side(answer)}"
    return tag(
        "svg",
        tag("title", title),
        _shade(name, answer, largest),
        _rect(fill=f"url(#shade-{name})", stroke=INK, stroke_width=1.5),
        tag("circle", cx=_MIDDLE, cy=_MIDDLE, r=_SWEEP, fill="none", stroke=AXIS,
            stroke_width=1.0, stroke_dasharray="4 4"),
        join()
        if answer.inside_noise
        else _arrow(answer.tilt / largest if largest else 0.0, bearing),
        tag("circle", cx=_MIDDLE, cy=_MIDDLE, r=4.0, fill=INK),
        *(_station(station, readings.get(station, "")) for station in _BEARING),
        _caption("back, column side", 20.0),
        _caption("front, your side", SIZE - 10.0),
        viewBox=f"0 0 {SIZE:g} {SIZE:g}", role="img", class_="table-drawing",
    )  # fmt: skip


def _shade(name: str, answer: Answer, largest: float) -> Markup:
    """Darker towards the high side; how much darker follows the tilt."""
    x, y = _way(answer.high_bearing_deg or 0.0)
    strength = min(answer.tilt / largest, 1.0) if largest else 0.0
    return tag(
        "defs",
        tag(
            "linearGradient",
            tag("stop", offset="0", stop_color=LOW),
            tag("stop", offset="1", stop_color=_mix(LOW, HIGH, strength)),
            id=f"shade-{name}",
            gradientUnits="userSpaceOnUse",
            x1=_MIDDLE - x * _HALF_TABLE, y1=_MIDDLE - y * _HALF_TABLE,
            x2=_MIDDLE + x * _HALF_TABLE, y2=_MIDDLE + y * _HALF_TABLE,
        ),
    )  # fmt: skip


def _arrow(length: float, bearing: float | None) -> Markup:
    """From the spindle towards the high side, never shorter than can be seen."""
    if bearing is None:
        return join()
    reach = max(min(length, 1.15) * _SWEEP * 0.78, _SHORTEST)
    x, y = _way(bearing)
    tip = (_MIDDLE + x * reach, _MIDDLE + y * reach)
    foot = (tip[0] - x * 11, tip[1] - y * 11)
    corners = [tip, (foot[0] - y * 5.5, foot[1] + x * 5.5), (foot[0] + y * 5.5, foot[1] - x * 5.5)]
    points = " ".join(f"{px:.1f},{py:.1f}" for px, py in corners)
    return join(
        tag("line", x1=_MIDDLE, y1=_MIDDLE, x2=foot[0], y2=foot[1], stroke=INK, stroke_width=3.0),
        tag("polygon", points=points, fill=INK),
    )


def _station(station: Station, reading: str) -> Markup:
    x, y = _way(_BEARING[station])
    place = (_MIDDLE + x * _SWEEP, _MIDDLE + y * _SWEEP)
    outside = (_MIDDLE + x * (_SWEEP + 11), _MIDDLE + y * (_SWEEP + 19) + 5.5)
    return join(
        tag(
            "circle", cx=place[0], cy=place[1], r=4.5, fill="#ffffff", stroke=INK, stroke_width=2.0
        ),
        _text(reading, *outside, size=16.0, weight="600", anchor=_ANCHOR[station]),
    )


def _caption(words: str, y: float) -> Markup:
    return _text(words, _MIDDLE, y, size=13.0, fill=MUTED)


def _text(
    words: Child,
    x: float,
    y: float,
    *,
    size: float,
    weight: str | None = None,
    fill: str = INK,
    anchor: str = "middle",
) -> Markup:
    return tag("text", words, x=x, y=y, font_size=size, font_weight=weight, fill=fill,
               text_anchor=anchor)  # fmt: skip


def _rect(**attributes: str | float | None) -> Markup:
    corner, side = _MIDDLE - _HALF_TABLE, 2 * _HALF_TABLE
    return tag("rect", x=corner, y=corner, width=side, height=side, rx=10.0, **attributes)


def _way(bearing_deg: float) -> tuple[float, float]:
    """Right and down on the page; bearings count clockwise from the back, which is up."""
    return sin(radians(bearing_deg)), -cos(radians(bearing_deg))


def _mix(one: str, other: str, share: float) -> str:
    parts = (
        round(int(one[k : k + 2], 16) * (1 - share) + int(other[k : k + 2], 16) * share)
        for k in (1, 3, 5)
    )
    return "#" + "".join(f"{part:02x}" for part in parts)


def high_side_words(answer: Answer) -> str:
    """Which side is highest, for the caption under a drawing."""
    if answer.high_bearing_deg is None:
        return ""
    return f"highest towards the {bearing_words(answer.high_bearing_deg)}"
