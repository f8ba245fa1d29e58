"""One job in a file: a line of JSON for how it begins, for each event, and for each effect of it.

Events and effects are written by the record's codec, without the fields that have their default
value: a field that is added later changes nothing here until it says something.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

from assistant.dialogue.messages import Effect, Event, Started
from assistant.dialogue.procedures.introduction import StartingPoint
from assistant.dialogue.state import State
from assistant.dialogue.step import introduce, step
from assistant.records.journal.codec import Json, encode, event_from
from assistant.records.machines.presets import LAYOUTS, preset

FOLDER = Path(__file__).parent / "journals"

DIGITS = 10
"""Significant digits of a number that is written; the last ones depend on the processor."""

DUST = 1e-12
"""What sums of rounded numbers leave where zero is meant: other on every processor."""

SAME = "as before"


@dataclass(frozen=True, slots=True)
class GoldenJob:
    """A job that was played.

    ``known``: the machines that had a file, of a job that begins before its machine is known;
    None for one that begins with ``Started``. ``effects``: as they are written, those of the
    beginning first where there is an introduction, then those after each event.
    """

    name: str
    known: tuple[str, ...] | None
    events: tuple[Event, ...]
    effects: tuple[tuple[Json, ...], ...]


def played(name: str, known: tuple[str, ...] | None, events: Sequence[Event]) -> GoldenJob:
    """The job of these events as it goes now."""
    return GoldenJob(name, known, tuple(events), tuple(replay(known, events)))


def replay(known: tuple[str, ...] | None, events: Sequence[Event]) -> Iterator[tuple[Json, ...]]:
    """The effects as they are written, after the beginning (of an introduction) and each event."""
    state: State | None = None
    if known is not None:
        state, effects = introduce(known, starting_points())
        yield _written(effects)
    for event in events:
        state, effects = step(state, event)
        yield _written(effects)


def starting_points() -> tuple[StartingPoint, ...]:
    """What a new machine may start from: every layout."""
    found = []
    for layout in LAYOUTS:
        inch, metric = preset(layout.name, "inch"), preset(layout.name, "metric")
        assert inch is not None
        assert metric is not None
        found.append(StartingPoint(inch, metric))
    return tuple(found)


def write(job: GoldenJob, folder: Path = FOLDER) -> None:
    """Put the job into its file."""
    effects = _shortened(job.effects)
    lines: list[Json] = []
    if job.known is not None:
        lines += [{"known": list(job.known)}, *next(effects)]
    for event, after in zip(job.events, effects, strict=True):
        written = encode(event, Event)
        # A profile is kept whole: what is usual for a machine may change, this one does not.
        if not isinstance(event, Started):
            written = _slim(event, written)
        elif event.last is None:
            del written["last"]
        lines += [{"event": written}]
        lines += after
    text = "".join(
        json.dumps(line, separators=(",", ":"), allow_nan=False) + "\n" for line in lines
    )
    (folder / f"{job.name}.jsonl").write_text(text, encoding="ascii")


def read(name: str, folder: Path = FOLDER) -> GoldenJob:
    """The job in the file of this name."""
    known: tuple[str, ...] | None = None
    events: list[Event] = []
    effects: list[list[Json]] = []
    offers: dict[str, Json] = {}
    for line in (folder / f"{name}.jsonl").read_text(encoding="ascii").splitlines():
        row = json.loads(line)
        if "known" in row:
            known = tuple(row["known"])
            effects.append([])
        elif "event" in row:
            events.append(event_from(row["event"], len(events) + 1))
            effects.append([])
        elif row["kind"] == "listen":
            offer = offers.setdefault(row["phase"], row["offer"])
            if row["offer"] != SAME:
                offer = offers[row["phase"]] = row["offer"]
            effects[-1].append({**row, "offer": offer})
        else:
            effects[-1].append(row)
    return GoldenJob(name, known, tuple(events), tuple(map(tuple, effects)))


def _shortened(effects: Sequence[tuple[Json, ...]]) -> Iterator[list[Json]]:
    offers: dict[str, Json] = {}
    for after in effects:
        lines = []
        for row in after:
            if row["kind"] == "listen":
                known = offers.get(row["phase"]) == row["offer"]
                offers[row["phase"]] = row["offer"]
                lines.append({**row, "offer": SAME} if known else row)
            else:
                lines.append(row)
        yield lines


def names(folder: Path = FOLDER) -> list[str]:
    """The jobs that have a file."""
    return sorted(path.stem for path in folder.glob("*.jsonl"))


def _written(effects: Sequence[Effect]) -> tuple[Json, ...]:
    return tuple(_slim(effect, encode(effect, Effect)) for effect in effects)


def _slim(value: object, data: Json) -> Json:
    """The encoded value without what has its default, and numbers to some digits."""
    if isinstance(data, float):
        return 0.0 if abs(data) < DUST else float(f"{data:.{DIGITS}g}")
    if isinstance(data, list):
        assert isinstance(value, tuple)
        return [_slim(one, each) for one, each in zip(value, data, strict=True)]
    if not isinstance(data, dict):
        return data
    assert is_dataclass(value)
    assert not isinstance(value, type)
    defaults = {field.name: _default(field) for field in fields(value)}
    kept = {}
    for key, each in data.items():
        # A "kind" is the codec's own unless the class has a field of that name.
        if key not in defaults:
            kept[key] = each
        elif (own := getattr(value, key)) != defaults[key]:
            kept[key] = _slim(own, each)
    return kept


def _default(field: Any) -> object:
    if field.default is not MISSING:
        return field.default
    return field.default_factory() if field.default_factory is not MISSING else MISSING
