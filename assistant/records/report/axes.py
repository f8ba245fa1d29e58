"""Plot frames for the reports' charts: round ticks, lines, words at the axes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor, log10

from assistant.records.report.markup import Markup, join, tag
from assistant.records.report.palette import AXIS, INK, MUTED, RULE


def ticks(low: float, high: float, wanted: int = 5) -> tuple[float, ...]:
    """Round numbers (1, 2 or 5 times a power of ten) that cover low to high.

    >>> ticks(-1.2, 6.5)
    (-2.0, 0.0, 2.0, 4.0, 6.0, 8.0)
    """
    if high - low < 1e-6:
        # A single value still needs a length of axis.
        high = low + 1.0
    span = high - low
    power = 10.0 ** floor(log10(span / wanted))
    step = next(power * k for k in (1, 2, 5, 10) if span / (power * k) <= wanted)
    first, last = floor(low / step), -floor(-high / step)
    return tuple(round(k * step, 9) + 0.0 for k in range(first, last + 1))


@dataclass(frozen=True, slots=True)
class Frame:
    """A plot area on a drawing of ``width`` by ``height``; x and y in units of the data."""

    width: float
    height: float
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    left: float = 72.0
    right: float = 16.0
    top: float = 14.0
    bottom: float = 44.0

    def x(self, value: float) -> float:
        """Where a value is across."""
        low, high = self.x_range
        return self.left + (value - low) / (high - low) * (self.width - self.left - self.right)

    def y(self, value: float) -> float:
        """Where a value is down."""
        low, high = self.y_range
        return (
            self.height
            - self.bottom
            - (value - low) / (high - low) * (self.height - self.top - self.bottom)
        )

    def grid(self, values: Sequence[float], show: Callable[[float], str], title: str) -> Markup:
        """Lines across at these values of y, with their numbers and the axis' words."""
        lines = [
            join(
                tag("line", x1=self.left, x2=self.width - self.right, y1=self.y(value),
                    y2=self.y(value), stroke=AXIS if value == 0 else RULE,
                    stroke_width=1.2 if value == 0 else 0.8),
                label(show(value), self.left - 8, self.y(value) + 4.5, anchor="end"),
            )
            for value in values
        ]  # fmt: skip
        middle = (self.top + self.height - self.bottom) / 2
        turned = tag("text", title, x=14.0, y=middle, font_size=13.0, fill=MUTED,
                     text_anchor="middle", transform=f"rotate(-90 14 {middle:.1f})")  # fmt: skip
        return join(*lines, turned)

    def under(self, places: Sequence[tuple[float, str]], title: str) -> Markup:
        """Words under the x axis, and what it counts."""
        base = self.height - self.bottom
        # As many words as there is room for.
        every = 1 + len(places) // 16
        return join(
            *(label(words, self.x(value), base + 18) for value, words in places[::every]),
            label(title, (self.left + self.width - self.right) / 2, self.height - 6, fill=MUTED),
        )


def tick_words(value: float, *, sign: bool = False) -> str:
    """A round number at an axis.

    >>> tick_words(-5.0), tick_words(0.02, sign=True)
    ('−5', '+0.02')
    """
    text = f"{abs(value):g}"
    if value < 0:
        return f"−{text}"
    return f"+{text}" if sign and value > 0 else text


def label(
    words: str,
    x: float,
    y: float,
    *,
    anchor: str = "middle",
    fill: str = INK,
    weight: str | None = None,
    size: float = 13.0,
) -> Markup:
    """One piece of text on a drawing."""
    return tag("text", words, x=x, y=y, font_size=size, fill=fill, text_anchor=anchor,
               font_weight=weight)  # fmt: skip
