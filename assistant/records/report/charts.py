"""The reports' charts as SVG: sweep by sweep, shim response, uncertainty budget."""

from collections.abc import Callable, Sequence
from decimal import Decimal

from assistant.dialogue.facts import ShimTrial
from assistant.dialogue.formatting import tolerance_counts
from assistant.dialogue.state import CompletedSweep
from assistant.metrology.response import Response
from assistant.metrology.uncertainty import Budget, Component
from assistant.records.report.axes import Frame, label, tick_words, ticks
from assistant.records.report.marks import patch, round_mark, sample, series, square_mark
from assistant.records.report.markup import Markup, join, tag
from assistant.records.report.palette import AXIS, BAND, FRONT, INK, SIDES
from assistant.records.report.wording import SOURCES, Words

_WIDTH = 520.0


def sweeps_chart(sweeps: Sequence[CompletedSweep], words: Words) -> Markup:
    """Both differences at each sweep with their uncertainty, and the band of the tolerance."""
    tolerance = tolerance_counts(words.profile)
    front = [
        (s.number, s.answer.front_minus_back, s.answer.budget.front_minus_back.expanded())
        for s in sweeps
    ]
    sides = [
        (s.number, s.answer.right_minus_left, s.answer.budget.right_minus_left.expanded())
        for s in sweeps
    ]
    reach = [value + way * wide for _, value, wide in (*front, *sides) for way in (-1, 1)]
    marks = ticks(min(*reach, -tolerance, 0), max(*reach, tolerance, 0))
    first, last = sweeps[0].number, sweeps[-1].number
    frame = Frame(_WIDTH, 270.0, (first - 0.5, last + 0.5), (marks[0], marks[-1]))
    band = tag("rect", x=frame.left, y=frame.y(tolerance), width=_WIDTH - frame.left - frame.right,
               height=frame.y(-tolerance) - frame.y(tolerance), fill=BAND)  # fmt: skip
    told = "; ".join(
        f"sweep {s.number}: {words.front_to_back(s.answer)}, {words.side_to_side(s.answer)}"
        for s in sweeps
    )
    return tag(
        "svg",
        tag("title", f"Differences sweep by sweep: {told}"),
        band,
        frame.grid(marks, counted(words), f"difference, {words.unit}"),
        frame.under([(s.number, str(s.number)) for s in sweeps], "sweep"),
        series(frame, front, -0.06, FRONT, None, round_mark),
        series(frame, sides, 0.06, SIDES, "7 4", square_mark),
        viewBox=f"0 0 {_WIDTH:g} 270", role="img", class_="chart",
    )  # fmt: skip


def sweeps_key() -> tuple[tuple[Markup, str], ...]:
    """Samples of the marks and what they stand for."""
    return (
        (sample(FRONT, None, round_mark), "front minus back (plus: front high)"),
        (sample(SIDES, "7 4", square_mark), "right minus left (plus: right high)"),
        (patch(BAND), "tolerance"),
    )


def response_chart(trials: Sequence[ShimTrial], response: Response, words: Words) -> Markup:
    """Front minus back against the shim that was in, and the line of the response learnt."""
    points = [(trials[0].shim_before, trials[0].before)]
    points += [(trial.shim_after, trial.after) for trial in trials]
    shims = [float(shim) for shim, _ in points]
    across = ticks(min(*shims, 0.0), max(*shims, 0.0), 6)
    marks = ticks(min(*(v for _, v in points), 0.0), max(*(v for _, v in points), 0.0))
    # Room all round for the names of the points, so that none stands on a figure of an axis.
    beside, above = (across[-1] - across[0]) * 0.2, (marks[-1] - marks[0]) * 0.11
    frame = Frame(
        _WIDTH, 250.0, (across[0] - beside, across[-1] + beside),
        (marks[0] - above, marks[-1] + above),
    )  # fmt: skip
    middle = (
        sum(shims) / len(shims),
        sum(value for _, value in points) / len(points),
    )
    ends = [
        (shim, middle[1] - response.value * (shim - middle[0])) for shim in (min(shims), max(shims))
    ]
    line = tag("line", x1=frame.x(ends[0][0]), y1=frame.y(ends[0][1]), x2=frame.x(ends[1][0]),
               y2=frame.y(ends[1][1]), stroke=AXIS, stroke_width=2.0,
               stroke_dasharray="7 4")  # fmt: skip
    return tag(
        "svg",
        tag("title", "Front minus back against the shim: " + "; ".join(
            f"{words.shim_in(shim)}: {words.signed(value)} {words.unit}" for shim, value in points
        )),
        frame.grid(marks, counted(words), f"front minus back, {words.unit}"),
        line,
        frame.under(
            [(value, counted(words)(value)) for value in across],
            f"shim in, {words.unit}, above the tilt bolt positive",
        ),
        *(round_mark(frame.x(float(shim)), frame.y(value), FRONT) for shim, value in points),
        *_names([(frame.x(float(shim)), frame.y(value)) for shim, value in points]),
        viewBox=f"0 0 {_WIDTH:g} 250", role="img", class_="chart",
    )  # fmt: skip


_LETTER, _LINE = 7.0, 13.0
"""About the width and the height of the letters of a label."""


def _names(points: Sequence[tuple[float, float]]) -> list[Markup]:
    """A name at each point, where it stands on no other name and no other point.

    The line falls to the right, so that above it on its right, below it on its left, is room.
    """
    taken = [(x - 6, y - 6, x + 6, y + 6) for x, y in points]
    made = []
    for k, (x, y) in enumerate(points):
        words = "as found" if k == 0 else f"trial {k}"
        wide = _LETTER * len(words)
        places = [
            (x + side * away, y + down, "start" if side > 0 else "end")
            for away, step in ((9, 0.0), (9, _LINE), (22, 0.0), (22, _LINE))
            for side, down in ((1, -8.0 - step), (-1, 17.0 + step), (-1, -8.0 - step),
                               (1, 17.0 + step))
        ]  # fmt: skip
        boxes = [
            (at - (wide if anchor == "end" else 0), base - _LINE,
             at + (wide if anchor == "start" else 0), base)
            for at, base, anchor in places
        ]  # fmt: skip
        free = [n for n, box in enumerate(boxes) if not any(_meet(box, other) for other in taken)]
        best = free[0] if free else 0
        taken.append(boxes[best])
        at, base, anchor = places[best]
        made.append(label(words, at, base, anchor=anchor))
    return made


Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def counted(words: Words, *, sign: bool = True) -> Callable[[float], str]:
    """Counts at an axis, in the unit that is printed."""
    size = 1.0 if words.profile.scale.system == "thou" else 0.01
    return lambda value: tick_words(value * size, sign=sign)


def response_words(response: Response, words: Words) -> str:
    """What one count of shim did, in a sentence."""
    return (
        f"One {words.unit} of shim changed front minus back by "
        f"{response.value:.2g} ± {response.uncertainty:.1g} {words.unit}."
    )


def budget_chart(budget: Budget, words: Words) -> Markup:
    """The parts of the uncertainty as bars, largest first, with their share of the whole."""
    parts = _merged(budget)
    names = [SOURCES[part.source] for part in parts]
    figures = [
        f"{words.amount(part.u)}, {budget.share(part):.0%}{', assumed' * part.assumed}"
        for part in parts
    ]
    row, left, right = 30.0, _room(names), _room(figures)
    height = row * len(parts) + 10
    largest = max((part.u for part in parts), default=0.0) or 1.0
    bars = []
    for k, part in enumerate(parts):
        y = 6 + k * row
        length = (_WIDTH - left - right) * part.u / largest
        bars.append(
            join(
                label(names[k], left - 10, y + 16, anchor="end"),
                tag("rect", x=left, y=y + 2, width=max(length, 1.0), height=row - 12, fill=FRONT),
                label(figures[k], left + length + 8, y + 16, anchor="start", fill=INK),
            )
        )  # fmt: skip
    told = "; ".join(f"{SOURCES[p.source]} {words.amount(p.u)}" for p in parts)
    return tag(
        "svg",
        tag("title", f"Standard uncertainty of the tilt by source: {told}"),
        *bars,
        viewBox=f"0 0 {_WIDTH:g} {height:g}", role="img", class_="chart",
    )  # fmt: skip


def _room(labels: Sequence[str]) -> float:
    """The width that the longest of these labels needs beside the bars."""
    return 12 + _LETTER * max(map(len, labels), default=0)


def _merged(budget: Budget) -> list[Component]:
    """Sources that add something, largest first."""
    return sorted((part for part in budget.components if part.u > 0), key=lambda part: -part.u)


def trials_of(sweeps: Sequence[CompletedSweep], last: tuple[ShimTrial, ...]) -> dict[int, Decimal]:
    """The signed shim that a sweep's trial ended with, by the number of the sweep."""
    usable = [sweep for sweep in sweeps if sweep.usable]
    known = [sweep.before.shims.trials for sweep in usable[1:]] + ([last] if usable else [])
    return {
        sweep.number: after[-1].shim_after
        for sweep, after in zip(usable, known, strict=True)
        if len(after) > len(sweep.before.shims.trials)
    }
