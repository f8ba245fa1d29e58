"""How well the ears hear: a table over noises, beside what plain dictation would give.

A command, not a test: it prints figures. The recordings are those of the repository, or a
folder with a ``manifest.jsonl`` whose lines hold ``file``, ``said``, ``kind`` (``talk`` for
what is not for us) and, for metric ones, ``"system": "mm"``; only voices that were not used
for fitting say anything about a stranger's. Speech to noise is measured by active speech
level (ITU-T P.56, deviations in ``noise``).
"""

import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TextIO

import numpy as np
import pocketsphinx

from assistant.devices.ears import Ears, Utterance
from assistant.devices.endpoint import CHUNK_S, Endpointer
from assistant.devices.pocketsphinx_ears import PocketSphinx
from assistant.devices.pocketsphinx_library import SafeDecoder
from assistant.devices.sound_file import RATE, Samples, read_all
from assistant.devices.verify import judge
from assistant.devices.voice_activity import CHUNK
from assistant.simulation.noise import NoiseKind, Signal, from_int16, mix, noise, to_int16
from grammar.jsgf import jsgf
from grammar.meaning import Meaning, Reading, Shim, Unclear
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.scale import Scale, System
from grammar.sentences import sentences, words_of

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
NOISES: tuple[NoiseKind, ...] = ("fan", "motor", "taps", "babble")
RATIOS_DB = (20.0, 15.0, 10.0, 5.0)
AROUND_S = 0.6
PROVISIONAL_CHUNKS = 5


@dataclass(frozen=True, slots=True)
class Clip:
    """A recording: what was said (its meaning Unclear when it is talk) and where it ends."""

    sound: Signal
    scale: Scale
    meaning: Meaning
    end_s: float | None


@dataclass(slots=True)
class Row:
    """Counts of one condition; times in seconds."""

    calls: int = 0
    signed: int = 0
    right: int = 0
    accepted_wrong: int = 0
    asked_right: int = 0
    rejected: int = 0
    library: int = 0
    dictation: int = 0
    talk: int = 0
    talk_accepted: int = 0
    talk_asked: int = 0
    decode_s: list[float] = field(default_factory=list)
    tone_s: list[float] = field(default_factory=list)


def run_benchmark(
    folder: Path | None, *, every: int, out: TextIO, noises: Sequence[NoiseKind] = NOISES
) -> int:
    """Print the table for every n-th clip of a folder, or of the repository's recordings."""
    clips = list(clips_of(folder))[::every]
    talkers = [clip.sound for clip in clips][:40]
    plain = _Plain()
    recogniser = PocketSphinx()
    out.write(f"{len(clips)} recordings, their own noise included\n{HEADING}")
    conditions: list[tuple[NoiseKind | None, float]] = [(None, 0.0)]
    conditions += [(kind, ratio) for kind in noises for ratio in RATIOS_DB]
    for kind, ratio in conditions:
        row = Row()
        for index, clip in enumerate(clips):
            sound = clip.sound
            if kind is not None:
                chance = np.random.default_rng([index, round(ratio)])
                sound = mix(sound, noise(kind, len(sound), chance, talkers), ratio)
            _hear(row, clip, to_int16(sound), recogniser, plain)
        out.write(line(f"{kind} {ratio:.0f} dB" if kind else "clean", row))
        out.flush()
    out.write(_idle())
    return 0


def clips_of(folder: Path | None) -> Iterator[Clip]:
    """Every clip of a folder, or of the repository when there is none."""
    if folder is None:
        manifest = json.loads((FIXTURES / "manifest.json").read_text(encoding="utf-8"))
        for name, about in manifest["files"].items():
            if about["hear"] is None:
                continue
            whole = from_int16(read_all(FIXTURES / name))
            scale = Scale(about["hear"]["unit"], about["hear"]["range"])
            for row in manifest["utterances"]:
                meaning = parse(row["said"], scale)
                if row["file"] == name and everything(scale).allows(meaning):
                    start = max(0, round((row["start_s"] - AROUND_S) * RATE))
                    sound = whole[start : round((row["end_s"] + AROUND_S) * RATE)]
                    yield Clip(sound, scale, meaning, row["end_s"] - start / RATE)
        return
    lines = (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    for text in lines:
        told: dict[str, Any] = json.loads(text)
        system: System = told.get("system") or "thou"
        scale = Scale(system)
        talk = told["kind"] == "talk"
        meaning = Unclear(told["said"]) if talk else parse(told["said"], scale)
        sound = from_int16(read_all(folder / told["file"]))
        yield Clip(sound, scale, meaning, told.get("end_s"))


def _hear(
    row: Row, clip: Clip, samples: Samples, recogniser: PocketSphinx, plain: "_Plain"
) -> None:
    ears = Ears(recogniser, judge, Endpointer())
    ears.arm(everything(clip.scale))
    heard: list[Utterance] = []
    padded = np.concatenate([samples, np.zeros(CHUNK * 12, np.int16)])
    for begin in range(0, len(padded), CHUNK):
        for one in ears.feed(padded[begin : begin + CHUNK]):
            heard.append(one)
            if clip.end_s is not None and not isinstance(clip.meaning, Unclear):
                ready = one.end_s + PROVISIONAL_CHUNKS * CHUNK_S + one.decode_s
                row.tone_s.append(max(ready, (begin + CHUNK) / RATE) - clip.end_s)
    heard += ears.flush()
    row.decode_s += [one.decode_s for one in heard]
    if isinstance(clip.meaning, Unclear):
        row.talk += 1
        row.talk_accepted += any(one.outcome == "accept" for one in heard)
        row.talk_asked += any(one.outcome == "ask" for one in heard)
        return
    row.calls += 1
    taken = [one for one in heard if one.outcome != "reject"]
    good = len(taken) == 1 and same(taken[0].meaning, clip.meaning)
    asked = any(one.outcome == "ask" for one in taken)
    bare = isinstance(clip.meaning, Reading) and (
        not clip.meaning.signed or clip.meaning.doubtful_unit
    )
    row.signed += not bare
    row.right += good
    row.rejected += not taken
    row.asked_right += good and asked and not bare
    row.accepted_wrong += any(
        one.outcome == "accept" and not same(one.meaning, clip.meaning) for one in taken
    )
    row.library += same(plain.grammar(samples, clip.scale), clip.meaning)
    row.dictation += same(plain.dictation(samples, clip.scale), clip.meaning)


def same(one: Meaning, other: Meaning) -> bool:
    """Tell whether two meanings do the same; how a unit was named does not matter."""
    match one, other:
        case Reading(), Reading():
            return (one.value, one.signed, one.station, one.correction) == (
                other.value, other.signed, other.station, other.correction,
            )  # fmt: skip
        case Shim(), Shim():
            return one == other
        case _:
            return one == other and not isinstance(one, Unclear)


class _Plain:
    """The library by itself: its decoder on the same sentences, and on all its words."""

    def __init__(self) -> None:
        self._grammar = SafeDecoder()
        self._added: set[str] = set()
        self._dictation = SafeDecoder(
            lm=pocketsphinx.get_model_path("en-us/en-us.lm.bin"), lw=6.5, bestpath=True
        )

    def grammar(self, samples: Samples, scale: Scale) -> Meaning:
        offer = everything(scale)
        name = f"{scale.system}{scale.reach}"
        if name not in self._added:
            self._grammar.add_grammar(name, jsgf(offer, name), words_of(sentences(offer)))
            self._added.add(name)
        self._grammar.activate(name)
        return self._meaning(self._grammar.run(samples).words, offer)

    def dictation(self, samples: Samples, scale: Scale) -> Meaning:
        return self._meaning(self._dictation.run(samples).words, everything(scale))

    @staticmethod
    def _meaning(words: str, offer: Offer) -> Meaning:
        meaning = parse(words, offer.scale)
        return meaning if offer.allows(meaning) else Unclear(words)


HEADING = (
    f"{'':14}{'calls':>6}{'right':>7}{'wrong':>7}{'asked':>7}{'reject':>7}"
    f"{'library':>9}{'dictation':>10}{'talk':>6}{'in':>5}{'asked':>6}{'ms':>6}{'tone s':>8}\n"
)
"""right: accepted, or asked with the right meaning first; wrong: accepted, but wrong;
asked: asked though right, of signed calls; library, dictation: right by the library's
own decoder, on our sentences and on all words; in: talk that was accepted."""


def line(name: str, row: Row) -> str:
    """One line of the table, shares in percent."""

    def share(part: int, whole: int) -> str:
        return f"{100 * part / whole:.1f}" if whole else "-"

    tone = f"{float(np.median(row.tone_s)):.2f}" if row.tone_s else "-"
    cost = f"{1000 * float(np.median(row.decode_s)):.0f}" if row.decode_s else "-"
    return (
        f"{name:14}{row.calls:6}{share(row.right, row.calls):>7}"
        f"{share(row.accepted_wrong, row.calls):>7}{share(row.asked_right, row.signed):>7}"
        f"{share(row.rejected, row.calls):>7}{share(row.library, row.calls):>9}"
        f"{share(row.dictation, row.calls):>10}{row.talk:6}{row.talk_accepted:5}"
        f"{row.talk_asked:6}{cost:>6}{tone:>8}\n"
    )


def _idle() -> str:
    """What listening costs while nobody speaks."""
    chance = np.random.default_rng(1)
    silence = (30 * chance.standard_normal(20 * RATE)).astype(np.int16)
    endpointer = Endpointer()
    began = time.process_time()
    for begin in range(0, len(silence), CHUNK):
        for _ in endpointer.feed(silence[begin : begin + CHUNK]):
            pass
    share = (time.process_time() - began) / 20
    return f"listening while nobody speaks: {100 * share:.1f} % of one core\n"


__all__ = ["Clip", "Row", "line", "run_benchmark", "same"]
