"""Marks of the charts' series: each has its own form, so that colour is not needed."""

from collections.abc import Callable, Sequence

from assistant.records.report.axes import Frame
from assistant.records.report.markup import Markup, join, tag
from assistant.records.report.palette import AXIS, PAPER

Marker = Callable[[float, float, str], Markup]
"""A mark at a point, in a colour."""


def sample(colour: str, dashes: str | None, mark: Marker) -> Markup:
    """A short piece of a series, for the key of a chart."""
    return tag(
        "svg",
        tag("line", x1=0.0, x2=34.0, y1=8.0, y2=8.0, stroke=colour, stroke_width=2.5,
            stroke_dasharray=dashes),
        mark(17.0, 8.0, colour),
        viewBox="0 0 34 16", width="34", height="16", aria_hidden="true",
    )  # fmt: skip


def patch(colour: str) -> Markup:
    """A piece of a band, for the key of a chart."""
    return tag(
        "svg",
        tag("rect", x=0.5, y=0.5, width=33.0, height=15.0, fill=colour, stroke=AXIS),
        viewBox="0 0 34 16", width="34", height="16", aria_hidden="true",
    )  # fmt: skip


def round_mark(x: float, y: float, colour: str) -> Markup:
    """A filled disc."""
    return tag("circle", cx=x, cy=y, r=5.0, fill=colour)


def square_mark(x: float, y: float, colour: str) -> Markup:
    """An open square."""
    return tag("rect", x=x - 4.5, y=y - 4.5, width=9.0, height=9.0, fill=PAPER, stroke=colour,
               stroke_width=2.5)  # fmt: skip


def series(
    frame: Frame,
    points: Sequence[tuple[int, float, float]],
    aside: float,
    colour: str,
    dashes: str | None,
    mark: Marker,
) -> Markup:
    """Points (number, value, half width of its bar) joined by a line, a little ``aside``.

    A bar ends at the edge of the plot.
    """
    places = [(frame.x(n + aside), frame.y(value)) for n, value, _ in points]
    line = " ".join(f"{'L' if k else 'M'}{x:.1f} {y:.1f}" for k, (x, y) in enumerate(places))
    low, high = frame.y_range
    bars = [
        tag("line", x1=frame.x(n + aside), x2=frame.x(n + aside),
            y1=frame.y(max(value - wide, low)), y2=frame.y(min(value + wide, high)),
            stroke=colour, stroke_width=1.5)
        for n, value, wide in points
    ]  # fmt: skip
    return join(
        tag("path", d=line, fill="none", stroke=colour, stroke_width=2.5, stroke_dasharray=dashes),
        *bars,
        *(mark(x, y, colour) for x, y in places),
    )
