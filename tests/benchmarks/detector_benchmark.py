"""The two voice detectors side by side: are utterances cut out whole, in noise?

    python -m tests.benchmarks.detector_benchmark [FOLDER]

Utterances follow each other in one stream, which goes through the endpointer once with the
neural detector and once with the energy gate. Nothing is decoded.
"""

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from assistant.devices.ears.endpoint import CHUNK_S, RATE, Cut, Endpointer
from assistant.devices.ears.voice_activity import (
    CHUNK,
    EnergyActivity,
    NeuralActivity,
    VoiceActivity,
)
from assistant.devices.sound.files import Samples
from assistant.simulation.noise import Signal
from tests.benchmarks.hearing_clips import Clip, clips_of
from tests.benchmarks.hearing_conditions import Condition, condition
from tests.benchmarks.hearing_tables import NAME_WIDTH

DETECTORS: dict[str, Callable[[], VoiceActivity]] = {
    "neural": NeuralActivity,
    "energy": EnergyActivity,
}
TOLERANCE_S = 0.03
"""A weak first or last sound of this length is not missed."""

LEAD_S = 1.0


@dataclass(frozen=True, slots=True)
class Stream:
    """Sound in which voices are, from when to when."""

    sound: Signal
    voices: tuple[tuple[float, float], ...]


@dataclass(slots=True)
class Cutting:
    """How a stream was cut. ``cpu``: processor time per second of sound."""

    voices: int = 0
    whole: int = 0
    clipped: int = 0
    split: int = 0
    joined: int = 0
    missed: int = 0
    false_starts: int = 0
    delays_s: list[float] = field(default_factory=list)
    cpu: float = 0.0


def stream_of(clips: Sequence[Clip]) -> Stream:
    """Clips with known bounds one after the other."""
    lead = 1e-4 * np.random.default_rng(1).standard_normal(round(LEAD_S * RATE))
    parts, at = [lead], LEAD_S
    voices: list[tuple[float, float]] = []
    for clip in clips:
        if clip.start_s is not None and clip.end_s is not None:
            voices.append((at + clip.start_s, at + clip.end_s))
            parts.append(clip.sound)
            at += len(clip.sound) / RATE
    return Stream(np.concatenate(parts), tuple(voices))


def cut_up(stream: Stream, activity: VoiceActivity, samples: Samples) -> Cutting:
    """Cut the stream, in whatever noise, and compare with where the voices are."""
    endpointer = Endpointer(activity)
    finals: list[tuple[float, Cut]] = []
    began = time.thread_time()
    for begin in range(0, len(samples), CHUNK):
        for cut in endpointer.feed(samples[begin : begin + CHUNK]):
            if cut.state == "final":
                finals.append(((begin + CHUNK) / RATE, cut))
    cpu = (time.thread_time() - began) * RATE / len(samples)
    found = Cutting(voices=len(stream.voices), cpu=cpu)
    trailing_s = endpointer.rule.trailing_chunks * CHUNK_S
    spans = [_span(cut, trailing_s) for _, cut in finals]
    for first, end in stream.voices:
        over = [index for index, span in enumerate(spans) if _overlap(span, (first, end)) > 0]
        heard = sum(_overlap(spans[index], (first, end)) for index in over)
        if heard < 0.5 * (end - first):
            found.missed += 1
        elif len(over) > 1:
            found.split += 1
        elif sum(_overlap(spans[over[0]], other) > TOLERANCE_S for other in stream.voices) > 1:
            found.joined += 1
        elif spans[over[0]][0] > first + TOLERANCE_S or spans[over[0]][1] < end - TOLERANCE_S:
            found.clipped += 1
        else:
            found.whole += 1
            found.delays_s.append(finals[over[0]][0] - end)
    found.false_starts = sum(
        all(_overlap(span, voice) <= 0 for voice in stream.voices) for span in spans
    )
    return found


def _span(cut: Cut, trailing_s: float) -> tuple[float, float]:
    """From when to when there is sound in a cut."""
    end = cut.end_s + trailing_s
    # An overlong cut has no sound: it is not a call, but somebody spoke.
    return (end - len(cut.samples) / RATE, end) if len(cut.samples) else (cut.start_s, cut.end_s)


def _overlap(one: tuple[float, float], other: tuple[float, float]) -> float:
    return min(one[1], other[1]) - max(one[0], other[0])


LEGEND = """\
whole: cut out with every sound of it; clipped: its beginning or end is missing; split, joined:
cut in two, or together with its neighbour; missed: not noticed; false: something else was taken
for a voice. delay: end of speech to the end of the cut, median. load: processor time per second.
"""


def detector_table(
    clips: Sequence[Clip], conditions: Sequence[Condition], talkers: Sequence[Signal]
) -> str:
    """Every condition with every detector."""
    stream = stream_of(clips)
    if not stream.voices:
        return "the recordings do not say where the voice begins and ends\n"
    minutes = len(stream.sound) / RATE / 60
    rows = [
        f"{len(stream.voices)} utterances in {minutes:.1f} minutes",
        f"{'':{NAME_WIDTH}}{'detector':>9}{'whole %':>9}{'clipped':>9}{'split':>7}{'joined':>8}"
        f"{'missed':>8}{'false':>7}{'delay s':>9}{'load':>7}",
    ]
    for each in conditions:
        samples = each.apply(stream.sound, "stream", talkers)
        for name, make in DETECTORS.items():
            found = cut_up(stream, make(), samples)
            delay = f"{np.median(found.delays_s):.2f}" if found.delays_s else "-"
            rows.append(
                f"{each!s:{NAME_WIDTH}}{name:>9}{100 * found.whole / found.voices:9.1f}"
                f"{found.clipped:9}{found.split:7}{found.joined:8}{found.missed:8}"
                f"{found.false_starts:7}{delay:>9}{found.cpu:7.3f}"
            )
    return "\n".join(rows) + "\n"


USUAL = ("quiet", *(f"{kind}:{ratio}" for kind in ("fan", "motor", "taps", "babble")
                    for ratio in (20, 15, 10, 5)))  # fmt: skip
MOST_CLIPS, MOST_TALKERS = 60, 40


def main(arguments: Sequence[str]) -> int:
    """Print the table for a folder of recordings, or for the repository's own."""
    clips = list(clips_of(Path(arguments[0]) if arguments else None))
    talkers = [clip.sound for clip in clips if clip.is_talk] or [clip.sound for clip in clips]
    pieces = clips[:: max(1, -(-len(clips) // MOST_CLIPS))]
    conditions = [condition(text) for text in USUAL]
    sys.stdout.write(LEGEND + detector_table(pieces, conditions, talkers[:MOST_TALKERS]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
