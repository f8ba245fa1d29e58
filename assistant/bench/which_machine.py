"""Which machine a job is for when none was named: the only one, the one that is told, or a new one.

Belongs here: what the folder of machines and the record know of it. The questions themselves
are `dialogue.introducing`.
"""

from functools import partial
from pathlib import Path
from typing import TextIO

from assistant.bench.loop import Machines
from assistant.dialogue.machine import Profile
from assistant.dialogue.procedures.introduction import StartingPoint
from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from assistant.records.machines.folder import Shelf
from assistant.records.machines.presets import LAYOUTS, preset


def which_machine(
    name: str | None, shelf: Shelf, record: Path, *, asks: bool | None, here: bool,
    err: TextIO,
) -> tuple[Profile, Machines | None]:  # fmt: skip
    """The profile of the job, and the machines to choose from when the person is to be asked.

    ``asks``: what was wished for on the command line, None when nothing was. ``here``: somebody
    is there to be asked. Raises RecordError.
    """
    if name is not None:
        return shelf.load(name), None
    known = known_machines(shelf, record, err)
    if asks is None:
        asks = here and len(known) != 1
    if asks:
        keep = partial(_keep, shelf)
        return Profile(), Machines(tuple(known), starting_points(), shelf.load, keep)
    if len(known) == 1:
        return next(iter(known.values())), None
    if known:
        told = ", ".join(known)
        print(
            f"sweepsay: no machine is named (there are: {told}): a usual drill press is taken",
            file=err,
        )
    return Profile(), None


def _keep(shelf: Shelf, made: Profile) -> None:
    shelf.save(made)


def starting_points() -> tuple[StartingPoint, ...]:
    """Every layout that a new machine may start from."""
    return tuple(_kind(layout.name) for layout in LAYOUTS)


def _kind(layout: str) -> StartingPoint:
    inch, metric = preset(layout, "inch"), preset(layout, "metric")
    assert inch is not None, layout
    assert metric is not None, layout
    return StartingPoint(inch, metric)


def known_machines(shelf: Shelf, record: Path, err: TextIO) -> dict[str, Profile]:
    """The machines by name, those of the newest jobs first; what cannot be used is told."""
    found: dict[str, Profile] = {}
    for name in shelf.names():
        try:
            profile = shelf.load(name)
        except RecordError as error:
            print(f"sweepsay: {error}", file=err)
        else:
            found[profile.name] = profile
    newest = _by_newest_job(record)
    usual = len(newest)
    order = sorted(found, key=lambda name: newest.get(name, usual))
    return {name: found[name] for name in order}


def _by_newest_job(record: Path) -> dict[str, int]:
    """Machines to their place in the record, that of the newest job 0."""
    try:
        with Journal.open(record, write=False) as journal:
            jobs = sorted(journal.jobs(), key=lambda row: row.started_at, reverse=True)
    except RecordError:
        # Any order does. The job opens the record next, and says or mends what is wrong with it.
        return {}
    return {name: place for place, name in enumerate(dict.fromkeys(row.machine for row in jobs))}
