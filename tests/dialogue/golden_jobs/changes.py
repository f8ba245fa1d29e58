"""What is no longer as it was: the effects of a job then and now, as a short list to read."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from math import isclose
from typing import Any

from assistant.dialogue.messages import Event, Heard, KeyPressed
from assistant.records.journal.codec import Json, kind_of
from tests.dialogue.golden_jobs.files import GoldenJob, replay

LONGEST = 160
"""Characters of a value that are shown."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is otherwise. ``event``: which event of the job, counted from 1; 0 before."""

    job: str
    event: int
    cause: str
    where: str
    before: str
    after: str


def changes_of(job: GoldenJob) -> list[Change]:
    """What replaying the job brings that is not in its file."""
    first = 0 if job.known is not None else 1
    return [
        Change(job.name, number, _cause(job.events, number), where, before, after)
        for number, (then, now) in enumerate(
            zip(job.effects, replay(job.known, job.events), strict=True), first
        )
        for where, before, after in _of_effects(then, now)
    ]


def listed(changes: Sequence[Change], most: int = 60) -> str:
    """A line for each kind of change, however often it comes: how often, where first, what."""
    groups: dict[tuple[str, str, str], list[Change]] = {}
    for change in changes:
        groups.setdefault((change.where, change.before, change.after), []).append(change)
    lines = [f"{len(changes)} changes, {len(groups)} different ones"]
    for same in sorted(groups.values(), key=len, reverse=True)[:most]:
        one = same[0]
        more = f" and {len(same) - 1} more" if len(same) > 1 else ""
        lines.append(
            f"{one.job}, event {one.event} ({one.cause}){more}\n"
            f"    {one.where}\n    before  {one.before}\n    after   {one.after}"
        )
    if len(groups) > most:
        lines.append(f"and {len(groups) - most} different ones more")
    return "\n".join(lines)


def _cause(events: Sequence[Event], number: int) -> str:
    if number == 0:
        return "the beginning"
    match events[number - 1]:
        case Heard(words=words, outcome=outcome):
            return f'"{words}"' + ("" if outcome == "accept" else f", {outcome}")
        case KeyPressed(key=key):
            return f"key {key}"
        case other:
            return kind_of(type(other))


def _of_effects(then: Sequence[Json], now: Sequence[Json]) -> Iterator[tuple[str, str, str]]:
    """Effects of the same kind are held against each other, the others are there or not."""
    kinds = [each["kind"] for each in then], [each["kind"] for each in now]
    for tag, i1, i2, j1, j2 in SequenceMatcher(None, *kinds, autojunk=False).get_opcodes():
        if tag == "equal":
            for old, new in zip(then[i1:i2], now[j1:j2], strict=True):
                yield from _of_values(old["kind"], old, new)
            continue
        for old in then[i1:i2]:
            yield old["kind"], _short(old), "-"
        for new in now[j1:j2]:
            yield new["kind"], "-", _short(new)


def _of_values(where: str, then: Any, now: Any) -> Iterator[tuple[str, str, str]]:
    if isinstance(then, dict) and isinstance(now, dict):
        for key in sorted(then.keys() | now.keys()):
            yield from _of_values(f"{where}.{key}", then.get(key, "-"), now.get(key, "-"))
    elif isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        for at, (old, new) in enumerate(zip(then, now, strict=True)):
            yield from _of_values(f"{where}[{at}]", old, new)
    elif not _same(then, now):
        yield where, _short(then), _short(now)


def _same(then: Any, now: Any) -> bool:
    numbers = all(
        isinstance(each, int | float) and not isinstance(each, bool) for each in (then, now)
    )
    # Other processors add up in another order.
    return isclose(then, now, rel_tol=1e-6, abs_tol=1e-8) if numbers else bool(then == now)


def _short(value: Json) -> str:
    text = value if isinstance(value, str) else json.dumps(value, separators=(",", ":"))
    return text if len(text) <= LONGEST else text[: LONGEST - 3] + "..."
