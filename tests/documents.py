"""The parts of the documents that are made from the code; run as a module, it writes them."""

import argparse
import ast
import re
from pathlib import Path

from assistant.arguments import build_parser
from assistant.bench.which_machine import starting_points
from assistant.devices.lines import event_of
from assistant.devices.picture import Moment, picture
from assistant.dialogue import job
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import DeviceLost, Effect, Say, Started
from assistant.dialogue.phases import Phase
from assistant.dialogue.rows import Leads
from assistant.dialogue.state import State
from assistant.dialogue.step import introduce as begin
from assistant.dialogue.step import step
from assistant.dialogue.turn import Outcome
from assistant.dialogue.view import view
from grammar.vocabulary import TABLE, TERM_OF_KEY
from tests.limits_table import limits, times

ROOT = Path(__file__).parent.parent

JOB = (
    "yes", "yes", "yes", "yes", "locked", "zeroed",
    "plus three", "front plus six", "five", "minus", "correction plus three", "zero",
    "done", "done", "locked", "zeroed",
    "plus two", "plus three", "plus one", "zero",
    "done", "shim three above", "locked", "zeroed",
    "plus half", "zero", "plus half", "zero",
    "yes", "done",
)  # fmt: skip
"""What the person says in README's job (invented readings)."""


def transcript() -> str:
    """The conversation of README's job, from the dialogue itself."""
    state, effects = step(None, Started("2026-01-05T09:00:00.000Z", "example", Profile()))
    lines = _said(effects)
    for line in JOB:
        lines.append(f"    {line}")
        event = event_of(line, "2026-01-05T09:00:00.000Z", state.turn, state.profile.scale)
        state, effects = step(state, event)
        lines += _said(effects)
    return "```\n" + "\n".join(lines) + "\n```"


def _said(effects: tuple[Effect, ...]) -> list[str]:
    return [f"> {effect.text}" for effect in effects if isinstance(effect, Say)]


def introduction() -> str:
    """How a new machine is made, from the dialogue itself."""
    state, effects = begin((), starting_points())
    lines = _said(effects)
    for line in ("yes", "yes", "yes", "yes", "yes", "ten inches", "yes"):
        lines.append(f"    {line}")
        event = event_of(line, "2026-01-05T09:00:00.000Z", state.turn, state.profile.scale)
        state, effects = step(state, event)
        lines += _said(effects)
    return "```\n" + "\n".join(lines) + "\n```"


def first_screen() -> str:
    """The screen without a microphone, at the first question."""
    state, _ = begin((), starting_points())
    state, _ = step(state, DeviceLost("2026-01-05T09:00:00.000Z", "microphone", "none"))
    return _drawn(state, Moment(hears=False))


def screen() -> str:
    """The screen at 80 x 24 in the middle of a sweep."""
    state, _ = step(None, Started("2026-01-05T09:00:00.000Z", "example", Profile()))
    for line in JOB[:8]:
        event = event_of(line, "2026-01-05T09:00:00.000Z", state.turn, state.profile.scale)
        state, _ = step(state, event)
    return _drawn(state, Moment(level_db=-30.0, speaking=False, hears=True))


def _drawn(state: State, moment: Moment) -> str:
    rows = picture(view(state), moment, 80, 24)
    lines = ["".join(text for _, text in row).rstrip() for row in rows]
    return "```\n" + "\n".join(lines) + "\n```"


def commands() -> str:
    """Every command with what it is for, from the argument parser."""
    rows = ["| command | for |", "|---|---|"]
    return "\n".join([*rows, *_commands(build_parser(), "sweepsay")])


def _commands(parser: argparse.ArgumentParser, above: str) -> list[str]:
    rows: list[str] = []
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                rows += _commands(inner, f"{above} {name}")
    told = (parser.description or "").removesuffix(".")
    return rows or [f"| `{above}` | {told[:1].lower()}{told[1:]} |"]


PAD = (("Num", "/", "*", "-"), ("7", "8", "9", "+"), ("4", "5", "6", ""),
       ("1", "2", "3", "Enter"), ("0", "", ".", ""))  # fmt: skip
"""The seventeen keys where they usually are."""


def pad() -> str:
    """The keypad as it lies on the bench, each key with what it does, after / or alone."""
    edge = "+" + "+".join(["-" * 14] * 4) + "+"
    lines = [edge]
    for row in PAD:
        lines.append("|" + "|".join(f" {key:<13}" for key in row) + "|")
        lines.append("|" + "|".join(f" {_does(key):<13}" for key in row) + "|")
        lines.append(edge)
    return "```\n" + "\n".join(lines) + "\n```"


def _does(key: str) -> str:
    alone = {"/": "/ / disregard", "+": "plus", "-": "minus, no", "Enter": "yes, done ...",
             ".": "decimal point"}  # fmt: skip
    if key == "*":
        return TERM_OF_KEY["*"][0]
    paired = TERM_OF_KEY.get(f"/{key}", ())
    return alone.get(key) or (f"/ {key} {paired[0]}" if paired else "")


def words() -> str:
    """The spoken words, from the vocabulary."""
    rows = ["| say | for |", "|---|---|"]
    rows += [f"| {', '.join(term.says)} | {term.help} |" for term in TABLE if term.help]
    return "\n".join(rows)


def keypad() -> str:
    """The legend of the keypad, from the vocabulary."""
    rows = ["| keys | for |", "|---|---|"]
    rows.append("| 0 to 9 . + − then Enter | a reading; − also answers no |")
    keys: dict[str, list[str]] = {}
    for term in TABLE:
        if term.key and term.kind == "command" and term.key != "-":
            keys.setdefault(term.key, []).append(term.says[0])
    for key, said in sorted(keys.items()):
        shown = " ".join("Enter" if key == "enter" else part for part in _parts(key))
        rows.append(f"| {shown} | {', '.join(said)} |")
    rows.append("| / 6 | talk key: once before a call, once after it |")
    rows.append("| / while typing | clear what was typed |")
    return "\n".join(rows)


def _parts(key: str) -> list[str]:
    return [key] if key == "enter" else list(key)


def folders() -> str:
    """Every folder of the program and the first line of what belongs in it."""
    rows = []
    for part in ("grammar", "assistant"):
        for path in sorted((ROOT / part).rglob("__init__.py")):
            doc = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
            name = f"{path.parent.relative_to(ROOT)}/"
            rows.append(f"{name:<32}{doc.splitlines()[0].rstrip('.') if doc else ''}")
    return "```\n" + "\n".join(rows) + "\n```"


def phases() -> str:
    """The table of phases."""
    rows = ["| phase | commands, the one that carries on first | also |", "|---|---|---|"]
    for phase, row in job.JOB.table.items():
        also = [
            name
            for name, there in (
                ("readings", row.readings),
                ("shim", row.on_shim is not None),
                ("sizes", any(row.sizes)),
                ("loose", row.loose),
            )
            if there
        ]
        leads = [f"{name} → {to}" if (to := _leads(row.on[name])) else name for name in row.on]
        rows.append(f"| {phase} | {', '.join(leads)} | {', '.join(also)} |")
    return "\n".join(rows)


def _leads(to: Leads) -> str:
    """Where a command always leads; empty where that depends on the state."""
    if isinstance(to, Phase):
        return str(to)
    follows = job.FOLLOWS[to] if isinstance(to, Outcome) else None
    return str(follows) if isinstance(follows, Phase) else ""


PARTS = {
    "README.md": {
        "introduction": introduction,
        "first screen": first_screen,
        "pad": pad,
        "transcript": transcript,
        "screen": screen,
        "commands": commands,
        "words": words,
        "keypad": keypad,
    },
    "DEVELOPERS.md": {"folders": folders, "phases": phases, "limits": limits, "times": times},
}


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
