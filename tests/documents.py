"""The parts of the documents that are made from the code; run as a module, it writes them."""

import ast
import re
import textwrap
from dataclasses import replace
from decimal import Decimal
from itertools import groupby
from pathlib import Path

from assistant.bench.caption import Caption
from assistant.devices.screen.picture import Moment, picture
from assistant.devices.text.lines import event_of
from assistant.dialogue import job
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Event, Say, Started
from assistant.dialogue.state import State
from assistant.dialogue.step import fold, step
from assistant.dialogue.view import view
from assistant.metrology.lengths import Length
from assistant.records.machines.presets import preset
from tests.limits_table import limits, times
from tests.pictures.screen_svg import screen_svg

ROOT = Path(__file__).parent.parent

AT = "2026-01-05T09:00:00.000Z"

JOB = (
    "yes", "yes", "yes", "yes", "locked", "zeroed",
    "minus four", "plus one", "left five", "plus", "zero",
    "minus four", "done", "right plus three", "right zero", "right plus one", "zeroed",
    "plus one", "zero", "zero", "zero",
    "yes", "done",
)  # fmt: skip
"""What the person says in README's job (invented readings)."""

SHOWN = JOB.index("right plus three") + 1
"""So much of it was said when the picture of the screen was made."""

PEDESTAL = replace(
    preset("bench drill press", "metric") or Profile(),
    name="pedestal drill",
    tolerance=Length.of("0.06", "mm"),
    # Its noise was measured in an earlier job.
    surface=tuple(Decimal(n) for n in (0, 1, 0, 0, 1, 0, -1, 0)),
)


def job_of_readme() -> tuple[Event, ...]:
    """The events of README's job."""
    events: list[Event] = [Started(AT, "example", PEDESTAL)]
    state = fold(events)
    for line in JOB:
        assert state is not None
        events.append(event_of(line, AT, state.turn, state.profile.scale))
        state = fold(events[-1:], state)
    return tuple(events)


def transcript() -> str:
    """The conversation of README's job, from the dialogue itself."""
    state: State | None = None
    lines: list[str] = []
    for event, said in zip(job_of_readme(), (None, *JOB), strict=True):
        lines += [f"    {said}"] if said else []
        state, effects = step(state, event)
        lines += [f"> {effect.text}" for effect in effects if isinstance(effect, Say)]
    return "```\n" + "\n".join(lines) + "\n```"


def screen() -> str:
    """The screen at 80 x 24 in the middle of README's job, as SVG."""
    state, caption = None, Caption()
    for event in job_of_readme()[: SHOWN + 1]:
        caption.before(state, event)
        state, effects = step(state, event)
        for effect in effects:
            if isinstance(effect, Say):
                caption.say(effect.text)
    assert state is not None
    shown = replace(view(state), said=caption.said)
    rows = picture(shown, Moment(level_db=-30.0), 80, 24)
    return screen_svg(rows, f"The screen: {shown.step}")


DEEPEST = 4
"""Folders within folders that are listed."""


def folders() -> str:
    """Every folder of the program and the first line of what belongs in it."""
    rows = []
    for part in ("grammar", "assistant"):
        for path in sorted((ROOT / part).rglob("__init__.py")):
            doc = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
            folder = path.parent.relative_to(ROOT)
            if len(folder.parts) <= DEEPEST:
                rows.append(f"{f'{folder}/':<33}{doc.splitlines()[0].rstrip('.') if doc else ''}")
    return "```\n" + "\n".join(rows) + "\n```"


def phases() -> str:
    """The procedures of a job in their order, each with its phases."""
    groups = groupby(job.JOB.table, key=lambda phase: type(phase).__module__)
    told = [f"**{name.rpartition('.')[2]}** {', '.join(map(str, own))}" for name, own in groups]
    return textwrap.fill("; ".join(told) + ".", 100, break_on_hyphens=False)


PARTS = {
    "README.md": {"transcript": transcript},
    "DEVELOPERS.md": {"folders": folders, "phases": phases, "limits": limits, "times": times},
}

PICTURES = {"tests/pictures/screen.svg": screen}
"""Files that are made whole."""


def rewritten(name: str) -> str:
    """A document with its made parts made again."""
    text = (ROOT / name).read_text(encoding="utf-8")
    for part, make in PARTS[name].items():
        pattern = re.compile(f"(<!-- begin {part} -->\n).*?(<!-- end {part} -->)", re.DOTALL)
        body = make()
        text = pattern.sub(lambda m, body=body: f"{m[1]}{body}\n{m[2]}", text)  # type: ignore[misc]
    return text


if __name__ == "__main__":
    for document in PARTS:
        text = rewritten(document)
        (ROOT / document).write_text(text, encoding="utf-8")
    for file, draw in PICTURES.items():
        (ROOT / file).write_text(draw(), encoding="utf-8")
