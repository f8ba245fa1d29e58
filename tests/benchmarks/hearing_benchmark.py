"""How well the ears hear, and what it costs: tables, with this project's goals beside them.

    python -m tests.benchmarks.hearing_benchmark [FOLDER] [--every N] [--noise fan ...]

A command, not a test: it prints figures. Without a folder it takes the repository's own
recordings, whose voices were used in fitting; only a folder of other voices says anything
about a stranger's. What a folder holds: see ``hearing_clips``. Speech to noise is measured by
active speech level (ITU-T P.56, deviations in ``noise``).
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

import numpy as np

from assistant.commands.hear import Expect, offered
from assistant.devices.sound_file import SoundFileError, read_blocks
from assistant.simulation.noise import NOISES as ALL_NOISES
from assistant.simulation.noise import NoiseKind, Signal
from grammar.scale import Scale
from tests.benchmarks import detector_benchmark, hearing_tables, learning_benchmark
from tests.benchmarks.detector_benchmark import detector_table
from tests.benchmarks.hearing_clips import Clip, clips_of, in_noise, prose, same
from tests.benchmarks.hearing_contestants import Contestant, WholeEars, contestants
from tests.benchmarks.hearing_tables import Condition, confusions, heading, line, side_by_side
from tests.benchmarks.hearing_tally import Tally
from tests.benchmarks.live_trial import live_tables

__all__ = ["Clip", "clips_of", "main", "run_benchmark", "same"]

NOISES: tuple[NoiseKind, ...] = ("fan", "motor", "taps", "babble")
RATIOS_DB = (20.0, 15.0, 10.0, 5.0)
PARTS = ("hearing", "learning", "detectors", "live")
MOST_TALKERS = 40
DETECTOR_CLIPS = 60
EVERY = 10


def run_benchmark(
    folder: Path | None,
    *,
    every: int,
    out: TextIO,
    noises: Sequence[NoiseKind] = NOISES,
    ratios: Sequence[float] = RATIOS_DB,
    expect: Expect = "any",
    parts: Sequence[str] = PARTS,
    talk: Path | None = None,
) -> int:
    """Print the tables for every n-th clip of a folder, or of the repository's recordings.

    ``talk``: a recording of nothing but talk, for false accepts in ten minutes of it.
    """
    clips = list(clips_of(folder))
    conditions = [Condition(), *(Condition(kind, ratio) for kind in noises for ratio in ratios)]
    # Babble is other people: talk where there is some, else calls.
    others = [clip.sound for clip in clips if clip.is_talk] or [clip.sound for clip in clips]
    talkers = others[:MOST_TALKERS]
    chosen = clips[::every]
    if "hearing" in parts:
        _hearing(chosen, prose(), conditions, talkers, expect, out)
    if "learning" in parts:
        out.write("\na voice that is learnt\n" + learning_benchmark.LEGEND)
        for text in learning_benchmark.learning_lines(chosen, conditions, talkers, expect):
            out.write(text)
            out.flush()
    if talk is not None:
        _continuous(talk, expect, out)
    if "detectors" in parts:
        out.write("\nvoice detectors\n" + detector_benchmark.LEGEND)
        pieces = chosen[:: max(1, -(-len(chosen) // DETECTOR_CLIPS))]
        out.write(detector_table(pieces, conditions, talkers))
        out.flush()
    if "live" in parts:
        out.write("\nthe live loop\n")
        out.write(live_tables())
    return 0


def _hearing(
    clips: Sequence[Clip], people: Sequence[Clip], conditions: Sequence[Condition],
    talkers: Sequence[Signal], expect: Expect, out: TextIO,
) -> None:  # fmt: skip
    ours = [
        clip for clip in clips if clip.is_talk or offered(expect, clip.scale).allows(clip.meaning)
    ]
    engines, missing = contestants()
    calls = sum(not clip.is_talk for clip in ours)
    out.write(
        f"{calls} calls and {len(ours) - calls} talk of the recordings, {len(people)} of people "
        f"reading prose (pocketsphinx-testdata{'' if people else ': not installed'})\n"
        f"expected: {expect}\n{missing + chr(10) if missing else ''}\n"
        f"our ears\n{hearing_tables.LEGEND}{heading()}"
    )
    results: dict[tuple[Condition, str], Tally] = {}
    for condition in conditions:
        found = {(condition, engine.name): Tally() for engine in engines}
        try:
            for index, clip in enumerate([*ours, *people]):
                _hear(clip, index, condition, talkers, expect, engines, found)
        except KeyboardInterrupt:
            out.write("stopped: what was heard so far\n")
            break
        results |= found
        out.write(line(condition, results[condition, engines[0].name]))
        out.flush()
    out.write(
        "\nside by side: our ears; the library's own decoder on the same sentences (library), and "
        "on all its words\n(dictation): it takes whatever is a sentence of ours\n"
    )
    out.write(side_by_side(results, [engine.name for engine in engines]))
    for engine in engines:
        if isinstance(engine, WholeEars):
            out.write(f"\nmixed up ({engine.name}), accepted or asked\n")
            out.write(confusions(results, engine.name))
    out.flush()


def _hear(
    clip: Clip, index: int, condition: Condition, talkers: Sequence[Signal], expect: Expect,
    engines: Sequence[Contestant], results: dict[tuple[Condition, str], Tally],
) -> None:  # fmt: skip
    samples = in_noise(clip.sound, condition.kind, condition.ratio_db, index, talkers)
    offer = offered(expect, clip.scale)
    for engine in engines:
        results[condition, engine.name].add(clip, engine.hear(samples, offer))


def _continuous(path: Path, expect: Expect, out: TextIO) -> None:
    """Nothing but talk, as a radio would give it."""
    ears = contestants()[0][0]
    samples = np.concatenate(list(read_blocks(path)))
    take = ears.hear(samples, offered(expect, Scale()))
    minutes = len(samples) / 16_000 / 60
    accepted = [one.words for one in take.taken if not one.asked]
    out.write(
        f"\ncontinuous talk: {minutes:.1f} minutes, {len(take.decode_s)} utterances found; "
        f"{len(accepted)} accepted, {len(accepted) * 10 / minutes:.1f} in ten minutes "
        f"(goal <=1); {len(take.taken) - len(accepted)} asked\n"
    )
    for words in accepted:
        out.write(f"    accepted: {words}\n")


def main(argv: Sequence[str] | None = None) -> int:
    """The command line; exit code 1 when the recordings cannot be used."""
    parser = argparse.ArgumentParser(
        prog="hearing_benchmark", description="How well the ears hear, as tables."
    )
    parser.add_argument(
        "folder", nargs="?", type=Path, metavar="FOLDER",
        help="recordings with a manifest.jsonl (default: the repository's own)",
    )  # fmt: skip
    parser.add_argument(
        "--every", type=int, default=EVERY, metavar="N",
        help=f"every n-th recording only (default {EVERY}); 1 takes hours",
    )  # fmt: skip
    parser.add_argument("--noise", nargs="+", choices=ALL_NOISES, default=list(NOISES))
    parser.add_argument(
        "--ratio", nargs="+", type=float, default=list(RATIOS_DB), metavar="DB",
        help="speech to noise (default 20 15 10 5)",
    )  # fmt: skip
    parser.add_argument("--expect", choices=("any", "reading", "command"), default="any")
    parser.add_argument("--parts", nargs="+", choices=PARTS, default=list(PARTS))
    parser.add_argument(
        "--talk", type=Path, metavar="FILE", help="a long recording of nothing but talk, too"
    )
    arguments = parser.parse_args(argv)
    if arguments.every < 1:
        parser.error("--every: use 1 or more")
    try:
        return run_benchmark(
            arguments.folder, every=arguments.every, out=sys.stdout, noises=arguments.noise,
            ratios=arguments.ratio, expect=arguments.expect, parts=arguments.parts,
            talk=arguments.talk,
        )  # fmt: skip
    except (OSError, SoundFileError, ValueError, KeyError) as error:
        sys.stderr.write(f"hearing_benchmark: {error}: give a folder with a manifest.jsonl\n")
        return 1


if __name__ == "__main__":
    sys.exit(main())
