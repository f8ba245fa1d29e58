"""The benchmark's figures as one table of text, with the goals beside them."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.hearing_tally import KNOWN_BY, Tally, wilson

NAME_WIDTH, BRIEF = 22, 17
CONFUSIONS_SHOWN = 15
WORST_SHOWN = 6
CLOSE_POINTS = 5.0
"""How far below quiet a far microphone and a telephone band may be."""


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


TONE_S = Goal(0.4)
RIGHT = {
    "voice": {"quiet": 97.5, "fan:20": 96.0, "fan:10": 90.0},
    "people": {"quiet": 96.0, "fan:20": 95.0, "fan:10": 92.0},
}
WRONG = {"quiet": 0.2, "fan:20": 0.5, "fan:10": 1.0}
ASKED = {"quiet": 8.0, "fan:20": 12.0, "fan:10": 25.0}
AS_GOOD_AS_QUIET = ("room:0.8:1.5", "band")
QUIET_ONLY = {
    "cmd asked": Goal(10), "told": Goal(95, least=True), "forced": Goal(0), "talk in": Goal(0.5),
    "talk asked": Goal(5), "worst": Goal(80, least=True),
}  # fmt: skip
"""What this project set itself, on recordings that no fit has seen."""

LEGEND = f"""\
In percent, a goal beside the figure, "!" where it is missed. right: accepted, or asked with the
right meaning first (95 % interval: the wider of Wilson's and a bootstrap over speakers); asked:
asked though right, of readings with a sign and of commands; wrong: accepted, but wrong; off dial:
numbers that the dial cannot show, told as such and accepted as something else; talk: not for us,
accepted and asked; worst: right among the worst tenth of speakers with {KNOWN_BY} calls or more.
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


WIDTHS = {
    "right": 26, "asked": 13, "cmd asked": 13, "wrong": 13, "told": 14, "forced": 11,
    "talk in": 13, "talk asked": 13, "worst": 13,
}  # fmt: skip
SHORT = {"cmd asked": "cmd", "told": "off: told", "talk in": "talk: in", "talk asked": "asked"}

Tallies = Mapping[str, Mapping[str, Tally]]
"""By condition, then by engine; the leading engine first."""


def table(tallies: Tallies, kind: str) -> str:
    """Every condition on a line: the leading engine in full, the others beside it.

    ``kind``: "people", or "voice" for synthetic ones; their goals differ.
    """
    engines = list(dict.fromkeys(name for by_engine in tallies.values() for name in by_engine))
    lead, others = engines[0], engines[1:]
    side = [max(len(name), BRIEF) for name in others]
    head = f"{lead:{NAME_WIDTH}}" + "".join(
        f"{SHORT.get(name, name):>{width}}" for name, width in WIDTHS.items()
    )
    above = f"{'':{len(head)}}"
    for name, width in zip(others, side, strict=True):
        above += f" | {name:>{width}}"
        head += f" | {'right wrong talk':>{width}}"
    quiet = tallies.get("quiet", {}).get(lead)
    rows = [above.rstrip(), head] if others else [head]
    for condition, by_engine in tallies.items():
        row = f"{condition:{NAME_WIDTH}}"
        cells = _cells(by_engine[lead], condition, kind, quiet) if lead in by_engine else {}
        row += "".join(f"{cells.get(name, '-'):>{width}}" for name, width in WIDTHS.items())
        for name, width in zip(others, side, strict=True):
            row += f" | {_brief(by_engine.get(name)):>{width}}"
        rows.append(row)
    return "\n".join(rows) + "\n"


def _cells(tally: Tally, condition: str, kind: str, quiet: Tally | None) -> dict[str, str]:
    goals = dict(QUIET_ONLY) if condition == "quiet" else {}
    if condition in RIGHT[kind]:
        goals["right"] = Goal(RIGHT[kind][condition], least=True)
        goals["wrong"], goals["asked"] = Goal(WRONG[condition]), Goal(ASKED[condition])
    elif condition in AS_GOOD_AS_QUIET and quiet is not None and quiet.calls:
        least = 100 * quiet.right / quiet.calls - CLOSE_POINTS
        goals["right"] = Goal(round(least, 1), least=True)
    worst = tally.worst_tenth()
    figures = {
        "asked": share(tally.asked, tally.signed),
        "cmd asked": share(tally.commands_asked, tally.commands),
        "wrong": share(tally.wrong, tally.calls),
        "told": share(tally.told, tally.off),
        "forced": share(tally.forced, tally.off),
        "talk in": share(tally.talk_accepted, tally.talk),
        "talk asked": share(tally.talk_asked, tally.talk),
        "worst": None if worst is None else 100 * worst,
    }
    cells = {name: cell(figure, goals.get(name)) for name, figure in figures.items()}
    cells["right"] = "-"
    if tally.calls:
        low, high = tally.right_interval()
        found = cell(100 * tally.right / tally.calls, None)
        goal = cell(100 * tally.right / tally.calls, goals.get("right")).removeprefix(found)
        cells["right"] = f"{found} ({100 * low:.0f} to {100 * high:.0f}){goal}"
    return cells


def _brief(tally: Tally | None) -> str:
    if tally is None:
        return "-"
    figures = (
        share(tally.right, tally.calls), share(tally.wrong, tally.calls),
        share(tally.talk_accepted, tally.talk),
    )  # fmt: skip
    return " ".join(f"{cell(figure, None):>5}" for figure in figures)


def below(tallies: Tallies) -> str:
    """Under the table: what intervals say of nothing, ten minutes of talk, who is hard to hear."""
    lead = next(name for by_engine in tallies.values() for name in by_engine)
    condition, tally = next((each, found[lead]) for each, found in tallies.items() if lead in found)
    rows = []
    if tally.calls:
        high = 100 * wilson(tally.wrong, tally.calls).high
        rows.append(f"wrong in {condition}: {tally.wrong} of {tally.calls}, at most {high:.1f} %")
    if tally.unsigned:
        part = f"{tally.unsure} of {tally.unsigned}"
        rows.append(
            f"station and number without a sign in {condition}: right, but a sign would not save "
            f"it from being asked: {part} ({100 * tally.unsure / tally.unsigned:.1f} %)"
        )
    if tally.talk_s:
        ten = 600 / tally.talk_s
        rows.append(
            f"talk in {condition}: {tally.talk_s / 60:.1f} minutes; in ten minutes "
            f"{ten * tally.talk_accepts:.1f} accepted (goal 0), {ten * tally.talk_asks:.1f} asked"
        )
    if tally.tone_s:
        rows.append(
            f"end of speech to the tone in {condition}: "
            f"{cell(float(np.median(tally.tone_s)), TONE_S, 2)} s, median, sound card left out"
        )
    if len(tally.sorts) > 1:
        sorts = "; ".join(f"{name} {part} of {of}" for name, (part, of) in tally.sorts.items())
        rows.append(f"right in {condition}: {sorts}")
    worst = ", ".join(
        f"{name} {part} of {whole}"
        for name, (part, whole) in tally.worst()[:WORST_SHOWN]
        if part < whole
    )
    rows.append(f"hardest to hear in {condition}: {worst or 'nobody'}")
    return "\n".join(rows) + "\n"


def confusions(tallies: Tallies, name: str) -> str:
    """What was said and what it was taken for, accepted or asked; most frequent first."""
    total: Counter[tuple[str, str]] = Counter()
    each = {
        condition: by_engine[name].mixed_up
        for condition, by_engine in tallies.items()
        if name in by_engine
    }
    for found in each.values():
        total.update(found)
    if not total:
        return "nothing was taken for anything else\n"
    rows = [f"{'said':26} {'taken for':26}{'times':>6}  where"]
    for pair, count in total.most_common(CONFUSIONS_SHOWN):
        where = ", ".join(
            f"{condition} {found[pair]}" for condition, found in each.items() if found[pair]
        )
        rows.append(f"{pair[0]:26} {pair[1]:26}{count:6}  {where}")
    if len(total) > CONFUSIONS_SHOWN:
        rest = sum(total.values()) - sum(n for _, n in total.most_common(CONFUSIONS_SHOWN))
        rows.append(f"and {rest} in {len(total) - CONFUSIONS_SHOWN} other pairs")
    return "\n".join(rows) + "\n"


def costs(engines: Sequence[str], versions: Mapping[str, str], tallies: Tallies) -> str:
    """What each engine takes of the processor, and which version of it was heard."""
    rows = [
        f"{'engine':22}{'version':>14}{'recordings':>12}{'cpu s, mean':>13}{'95 %':>8}{'most':>8}"
    ]
    for name in engines:
        spent = [s for found in tallies.values() if name in found for s in found[name].cpu_s]
        if spent:
            rows.append(
                f"{name:22}{versions[name]:>14}{len(spent):12}{np.mean(spent):13.3f}"
                f"{np.percentile(spent, 95):8.3f}{max(spent):8.3f}"
            )
    return "\n".join(rows) + "\n"
