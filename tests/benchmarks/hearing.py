"""How well the ears hear, engine beside engine, in one table with this project's goals.

    python -m tests.benchmarks.hearing [FOLDER ...] [--condition fan:20 ...] [--engine NAME ...]

A command, not a test: it prints figures. A folder holds recordings and a ``manifest.jsonl`` (see
``hearing_clips``); without one the repository's own are heard, whose voices every fit has seen:
only other folders say anything about a stranger. ``hearing_voices`` makes one. What can be done to
a recording: see ``hearing_conditions``. What was heard is kept, so that the command goes on where
it was stopped; ``--table`` prints what there is and hears nothing. Speech to noise is by active
speech level (ITU-T P.56, deviations in ``noise``).
"""

import argparse
import hashlib
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

import platformdirs

from assistant.commands.hear import Expect, offered
from assistant.devices.sound.files import SoundFileError
from assistant.simulation.noise import Signal
from tests.benchmarks import hearing_tables
from tests.benchmarks.hearing_clips import Clip, clips_of, is_kept_out, prose
from tests.benchmarks.hearing_conditions import USUAL, Condition, condition
from tests.benchmarks.hearing_engines import ENGINES, Engine, MissingEngine, made, version_of
from tests.benchmarks.hearing_results import Key, Result, Results, result_of
from tests.benchmarks.hearing_tally import tallied

MOST_TALKERS = 40


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is heard: every so many-th recording, in these conditions, by these engines.

    ``kept_out``: of people only those whom no fit has heard.

    ``hear``: False for only what was heard before. ``until``: when to stop, in seconds of
    ``time.monotonic``.
    """

    every: int = 1
    conditions: tuple[Condition, ...] = tuple(map(condition, USUAL))
    engines: tuple[str, ...] = tuple(ENGINES)
    expect: Expect = "any"
    reach: int | None = None
    kept_out: bool = False
    hear: bool = True
    until: float = float("inf")


@dataclass(frozen=True, slots=True)
class Folder:
    """Recordings under a name: ``chosen`` to be heard, ``talkers`` to make babble of.

    ``babble``: the same for the same talkers.
    """

    name: str
    chosen: tuple[Clip, ...]
    talkers: tuple[Signal, ...]
    babble: str

    @property
    def kind(self) -> str:
        """Whose goals hold: "people", or "voice" where most are synthetic."""
        return "voice" if 2 * sum(c.synthetic for c in self.chosen) > len(self.chosen) else "people"


def folder_of(path: Path | None, wanted: Wanted) -> Folder:
    """A folder's recordings that are offered, or off the dial, or talk."""
    clips = [
        clip
        for clip in clips_of(path, wanted.reach)
        if is_kept_out(clip) or clip.synthetic or not wanted.kept_out
        if clip.is_talk
        or clip.is_off_dial
        or offered(wanted.expect, clip.scale).allows(clip.meaning)
    ]
    # Babble is other people: talk where there is some, else calls.
    others = ([clip for clip in clips if clip.is_talk] or clips)[:MOST_TALKERS]
    babble = hashlib.sha256("".join(clip.name for clip in others).encode()).hexdigest()[:12]
    chosen = clips[:: wanted.every]
    if path is None:
        chosen += prose()
    name = "the repository's own, and people reading prose" if path is None else path.name
    return Folder(name, tuple(chosen), tuple(clip.sound for clip in others), babble)


def run(folders: Sequence[Folder], wanted: Wanted, results: Results, out: TextIO) -> None:
    """Hear what was not heard yet, and print the table of each folder."""
    engines, missing = _engines(wanted)
    versions = {name: version_of(name) for name in engines}
    try:
        if wanted.hear:
            for folder in folders:
                _hear(folder, wanted, engines, versions, results)
    except (KeyboardInterrupt, TimeoutError):
        out.write("stopped: what was heard so far; the same command goes on\n")
    out.write("".join(f"{reason}\n" for reason in missing))
    out.write(hearing_tables.LEGEND)
    for folder in folders:
        out.write("\n" + _told(folder, wanted, versions, results))
    out.flush()


def _engines(wanted: Wanted) -> tuple[dict[str, Engine | None], list[str]]:
    """Those that can be had; none is made when nothing is to be heard."""
    found: dict[str, Engine | None] = {}
    missing = []
    for name in wanted.engines:
        try:
            found[name] = made(name) if wanted.hear else None
        except MissingEngine as error:
            missing.append(str(error))
    return found, missing


def _hear(
    folder: Folder, wanted: Wanted, engines: dict[str, Engine | None], versions: dict[str, str],
    results: Results,
) -> None:  # fmt: skip
    done, total = 0, len(folder.chosen) * len(wanted.conditions)
    for each in wanted.conditions:
        for clip in folder.chosen:
            done += 1
            keys = {name: _key(folder, clip, each, name, versions, wanted) for name in engines}
            new = {name: key for name, key in keys.items() if results.find(key) is None}
            if not new:
                continue
            if time.monotonic() > wanted.until:
                raise TimeoutError
            samples = each.apply(clip.sound, clip.name, folder.talkers)
            offer = offered(wanted.expect, clip.scale)
            for name, key in new.items():
                engine = engines[name]
                assert engine is not None
                results.keep(key, result_of(clip, engine.hear(samples, offer)))
            if done % 50 == 0 and sys.stderr.isatty():
                sys.stderr.write(f"\r{folder.name}: {done} of {total}, {each}\x1b[K")


def _key(
    folder: Folder, clip: Clip, each: Condition, engine: str, versions: dict[str, str],
    wanted: Wanted,
) -> Key:  # fmt: skip
    babble = any(step == "babble" for step, _ in each.steps)
    dial = f"{wanted.expect} {clip.scale.system} {clip.scale.reach} {clip.scale.step}"
    return Key(
        f"{clip.name} {clip.said}", str(each), folder.babble if babble else "", dial, engine,
        versions[engine],
    )  # fmt: skip


def _told(folder: Folder, wanted: Wanted, versions: dict[str, str], results: Results) -> str:
    tallies = {}
    for each in wanted.conditions:
        found = {}
        for name in versions:
            pairs = list(_heard(folder, each, name, versions, wanted, results))
            if pairs:
                found[name] = tallied(pairs)
        if found:
            tallies[str(each)] = found
    calls = [clip for clip in folder.chosen if not clip.is_talk]
    off = sum(clip.is_off_dial for clip in calls)
    head = (
        f"{folder.kind}: {folder.name}: {len(calls) - off} calls on the dial, {off} off it, "
        f"{len(folder.chosen) - len(calls)} talk; {len({clip.voice for clip in folder.chosen})} "
        f"speakers; listened for: {wanted.expect}\n"
    )
    if not tallies:
        return head + "nothing was heard yet\n"
    lead = next(name for found in tallies.values() for name in found)
    return (
        head + hearing_tables.table(tallies, folder.kind) + hearing_tables.below(tallies)
        + f"\nmixed up by {lead}\n" + hearing_tables.confusions(tallies, lead)
        + "\n" + hearing_tables.costs(list(versions), versions, tallies)
    )  # fmt: skip


def _heard(
    folder: Folder, each: Condition, engine: str, versions: dict[str, str], wanted: Wanted,
    results: Results,
) -> Iterator[tuple[Clip, Result]]:  # fmt: skip
    for clip in folder.chosen:
        result = results.find(_key(folder, clip, each, engine, versions, wanted))
        if result is not None:
            yield clip, result


def default_results() -> Path:
    """Where results are kept unless another place is given."""
    return Path(platformdirs.user_cache_dir("sweepsay")) / "hearing.jsonl"


def main(argv: Sequence[str] | None = None) -> int:
    """The command line; exit code 1 when the recordings cannot be used."""
    parser = argparse.ArgumentParser(
        prog="hearing", description="How well the ears hear, engine beside engine, as one table."
    )
    parser.add_argument(
        "folder", nargs="*", type=Path, metavar="FOLDER",
        help="recordings with a manifest.jsonl (default: the repository's own)",
    )  # fmt: skip
    parser.add_argument("--every", type=int, default=1, metavar="N", help="every n-th recording")
    parser.add_argument("--condition", nargs="+", default=list(USUAL), metavar="CONDITION")
    parser.add_argument("--engine", nargs="+", choices=ENGINES, default=list(ENGINES))
    parser.add_argument("--expect", choices=("any", "reading", "command"), default="any")
    parser.add_argument(
        "--range", type=int, metavar="COUNTS", help="the dial's, where the manifest has none"
    )
    parser.add_argument(
        "--kept-out", action="store_true", help="of people only those whom no fit has heard"
    )
    parser.add_argument("--minutes", type=float, metavar="M", help="stop hearing after this time")
    parser.add_argument("--table", action="store_true", help="hear nothing, print what there is")
    parser.add_argument("--results", type=Path, default=default_results(), metavar="FILE")
    given = parser.parse_args(argv)
    if given.every < 1:
        parser.error("--every: use 1 or more")
    try:
        conditions = tuple(map(condition, given.condition))
    except ValueError as error:
        parser.error(str(error))
    until = time.monotonic() + 60 * given.minutes if given.minutes else float("inf")
    wanted = Wanted(
        given.every, conditions, tuple(given.engine), given.expect, given.range, given.kept_out,
        not given.table, until,
    )  # fmt: skip
    try:
        folders = [folder_of(each, wanted) for each in given.folder or [None]]
    except (OSError, SoundFileError, ValueError, KeyError) as error:
        sys.stderr.write(f"hearing: {error}: give a folder with a manifest.jsonl\n")
        return 1
    try:
        run(folders, wanted, Results(given.results), sys.stdout)
    except (OSError, ValueError) as error:
        sys.stderr.write(f"hearing: {error}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
