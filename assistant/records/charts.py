"""The reports' charts as SVG: sweep by sweep, shim response, uncertainty budget."""

from collections.abc import Callable, Sequence
from decimal import Decimal

from assistant.dialogue.amounts import tolerance_counts
from assistant.dialogue.findings import ShimTrial
from assistant.dialogue.state import Sweep
from assistant.metrology.response import Response
from assistant.metrology.uncertainty import Budget, Component
from assistant.records.axes import Frame, label, tick_words, ticks
from assistant.records.marks import patch, round_mark, sample, series, square_mark
from assistant.records.markup import Markup, join, tag
from assistant.records.palette import AXIS, BAND, FRONT, INK, SIDES
from assistant.records.wording import SOURCES, Words

_WIDTH = 640.0


def sweeps_chart(sweeps: Sequence[Sweep], words: Words) -> Markup:
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
    frame = Frame(_WIDTH, 300.0, (first - 0.5, last + 0.5), (marks[0], marks[-1]))
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
        viewBox=f"0 0 {_WIDTH:g} 300", role="img", class_="chart",
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
    # Room above the highest point for its name.
    frame = Frame(_WIDTH, 280.0, (across[0], across[-1]), (marks[0], marks[-1]), top=26.0)
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
        *(
            join(
                round_mark(frame.x(float(shim)), frame.y(value), FRONT),
                _named(k, frame.x(float(shim)), frame.y(value)),
            )
            for k, (shim, value) in enumerate(points)
        ),
        viewBox=f"0 0 {_WIDTH:g} 280", role="img", class_="chart",
    )  # fmt: skip


def _named(k: int, x: float, y: float) -> Markup:
    words = "as found" if k == 0 else f"trial {k}"
    near_edge = x > _WIDTH - 90
    # The line falls to the right: above it on its right, below it on its left, is room.
    if near_edge:
        return label(words, x - 9, y + 17, anchor="end")
    return label(words, x + 9, y - 8, anchor="start")


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
    row, left, right = 30.0, 190.0, 170.0
    height = row * len(parts) + 10
    largest = max((part.u for part in parts), default=0.0) or 1.0
    bars = []
    for k, part in enumerate(parts):
        y = 6 + k * row
        length = (_WIDTH - left - right) * part.u / largest
        share = budget.share(part)
        assumed = ", assumed" if part.assumed else ""
        bars.append(
            join(
                label(SOURCES[part.source], left - 10, y + 16, anchor="end"),
                tag("rect", x=left, y=y + 2, width=max(length, 1.0), height=row - 12, fill=FRONT),
                label(f"{words.amount(part.u)}, {share:.0%}{assumed}", left + length + 8, y + 16,
                      anchor="start", fill=INK),
            )
        )  # fmt: skip
    told = "; ".join(f"{SOURCES[p.source]} {words.amount(p.u)}" for p in parts)
    return tag(
        "svg",
        tag("title", f"Standard uncertainty of the tilt by source: {told}"),
        *bars,
        viewBox=f"0 0 {_WIDTH:g} {height:g}", role="img", class_="chart",
    )  # fmt: skip


def _merged(budget: Budget) -> list[Component]:
    """Sources that add something, largest first."""
    return sorted((part for part in budget.components if part.u > 0), key=lambda part: -part.u)


def trials_of(sweeps: Sequence[Sweep], last: tuple[ShimTrial, ...]) -> dict[int, Decimal]:
    """The signed shim that a sweep's trial ended with, by the number of the sweep."""
    usable = [sweep for sweep in sweeps if sweep.usable]
    known = [sweep.before.trials for sweep in usable[1:]] + ([last] if usable else [])
    return {
        sweep.number: after[-1].shim_after
        for sweep, after in zip(usable, known, strict=True)
        if len(after) > len(sweep.before.trials)
    }
