"""The benchmark's figures as tables of text, with the goals beside them."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assistant.simulation.noise import NoiseKind
from tests.benchmarks.hearing_tally import Tally

NAME_WIDTH = 14
CONFUSIONS_SHOWN = 25


@dataclass(frozen=True, slots=True, order=True)
class Condition:
    """A noise at a ratio of speech to noise in dB; no kind is quiet."""

    kind: NoiseKind | None = None
    ratio_db: float = 0.0

    def __str__(self) -> str:
        return f"{self.kind} {self.ratio_db:.0f} dB" if self.kind else "clean"


@dataclass(frozen=True, slots=True)
class Goal:
    """What a figure should be at least (``least``), or else at most."""

    value: float
    least: bool = False

    def met(self, figure: float) -> bool:
        """Whether it is."""
        return figure >= self.value if self.least else figure <= self.value

    def __str__(self) -> str:
        return f"{'>=' if self.least else '<='}{self.value:g}"


CLEAN, FAN_20, FAN_10 = Condition(), Condition("fan", 20.0), Condition("fan", 10.0)
GOALS: dict[tuple[Condition, str], Goal] = {
    (CLEAN, "right"): Goal(97, least=True),
    (FAN_20, "right"): Goal(94, least=True),
    (FAN_10, "right"): Goal(75, least=True),
    (CLEAN, "wrong"): Goal(0.5),
    (FAN_20, "wrong"): Goal(0.5),
    (FAN_10, "wrong"): Goal(2),
    (CLEAN, "asked"): Goal(10),
    (FAN_20, "asked"): Goal(20),
    (CLEAN, "tone s"): Goal(0.45),
    (CLEAN, "talk in"): Goal(1),
    (CLEAN, "/10 min"): Goal(1),
}
"""What this project set itself, on recordings that no fit has seen."""

LEGEND = """\
calls: what was for us; right: accepted, or asked with the right meaning first; wrong: accepted,
but wrong; asked: asked though right, of the calls with a sign; reject: turned down. In percent.
talk: what was not for us; in: accepted, in percent and in ten minutes of it; asked: in percent.
ms: processor time to decode one utterance, median; load: processor time of everything per second
of sound; tone s: end of speech to the tone, median, the sound device's own delay not counted.
Behind a figure its goal, with ! where it is missed.
"""


def cell(figure: float | None, goal: Goal | None, digits: int = 1) -> str:
    """A figure with its goal.

    >>> cell(96.0, Goal(97, least=True))
    '96.0 >=97!'
    """
    if figure is None:
        return "-"
    shown = f"{figure:.{digits}f}"
    return shown if goal is None else f"{shown} {goal}{'' if goal.met(figure) else '!'}"


def share(part: int, whole: int) -> float | None:
    """In percent; None of nothing."""
    return 100 * part / whole if whole else None


def figures(tally: Tally) -> dict[str, tuple[float | None, int]]:
    """The figures of a line and how many decimals they have, by their heading."""
    return {
        "right": (share(tally.right, tally.calls), 1),
        "wrong": (share(tally.wrong, tally.calls), 1),
        "asked": (share(tally.asked, tally.signed), 1),
        "reject": (share(tally.rejected, tally.calls), 1),
        "talk in": (share(tally.talk_accepted, tally.talk), 1),
        "/10 min": (tally.talk_accepted_per_10_min if tally.talk else None, 1),
        "asked ": (share(tally.talk_asked, tally.talk), 1),
        "ms": (1000 * _median(tally.decode_s) if tally.decode_s else None, 0),
        "load": (tally.cpu_s / tally.sound_s if tally.sound_s else None, 2),
        "tone s": (_median(tally.tone_s) if tally.tone_s else None, 2),
    }


WIDTHS = {
    "right": 14, "wrong": 13, "asked": 13, "reject": 8, "talk in": 12, "/10 min": 12, "asked ": 8,
    "ms": 6, "load": 6, "tone s": 13,
}  # fmt: skip
_BEFORE_TALK = "talk in"


def heading() -> str:
    """The line above those of ``line``."""
    return _row("", "calls", "talk", {name: name for name in WIDTHS})


def line(condition: Condition, tally: Tally) -> str:
    """One condition."""
    cells = {
        name: cell(figure, GOALS.get((condition, name)), digits)
        for name, (figure, digits) in figures(tally).items()
    }
    return _row(str(condition), str(tally.calls), str(tally.talk), cells)


def _row(name: str, calls: str, talk: str, cells: Mapping[str, str]) -> str:
    row = f"{name:{NAME_WIDTH}}{calls:>6}"
    for column, width in WIDTHS.items():
        row += f"{talk:>6}" if column == _BEFORE_TALK else ""
        row += f"{cells[column]:>{width}}"
    return row + "\n"


Results = Mapping[tuple[Condition, str], Tally]
"""By condition and contestant."""


def side_by_side(results: Results, names: Sequence[str]) -> str:
    """Everybody's share of right, of wrongly accepted, and of talk let in, in percent."""
    parts = ("right", "wrong", "talk in")
    width = 10 * len(names)
    rows = [f"{'':{NAME_WIDTH}}" + "".join(f"{part:>10}{'':{width - 10}} |" for part in parts)]
    shown = "".join(f"{name:>10}" for name in names)
    rows.append(f"{'':{NAME_WIDTH}}" + f"{shown} |" * len(parts))
    for condition in dict.fromkeys(condition for condition, _ in results):
        row = f"{condition!s:{NAME_WIDTH}}"
        for part in parts:
            for name in names:
                row += f"{cell(figures(results[condition, name])[part][0], None):>10}"
            row += " |"
        rows.append(row)
    return "\n".join(rows) + "\n"


def confusions(results: Results, name: str) -> str:
    """What was said and what it was taken for, most frequent first, by speech to noise."""
    ratios: dict[str, Counter[tuple[str, str]]] = {}
    total: Counter[tuple[str, str]] = Counter()
    for (condition, whose), tally in results.items():
        if whose == name:
            level = f"{condition.ratio_db:.0f} dB" if condition.kind else "clean"
            ratios.setdefault(level, Counter()).update(tally.mixed_up)
            total.update(tally.mixed_up)
    if not total:
        return "nothing was taken for anything else\n"
    levels = "".join(f"{level:>7}" for level in ratios)
    rows = [f"{'said':26}{'taken for':26}{'times':>6}{levels}"]
    for pair, count in total.most_common(CONFUSIONS_SHOWN):
        each = "".join(f"{found[pair] or '':>7}" for found in ratios.values())
        rows.append(f"{pair[0]:26}{pair[1]:26}{count:6}{each}")
    if len(total) > CONFUSIONS_SHOWN:
        rest = sum(total.values()) - sum(n for _, n in total.most_common(CONFUSIONS_SHOWN))
        rows.append(f"and {rest} in {len(total) - CONFUSIONS_SHOWN} other pairs")
    return "\n".join(rows) + "\n"


def _median(values: Sequence[float]) -> float:
    return float(np.median(values))
