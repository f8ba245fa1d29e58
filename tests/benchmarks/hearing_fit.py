"""Fits the gates of the leading recogniser: ``python -m tests.benchmarks.hearing_fit FOLDER ...``.

A folder holds single utterances and a ``manifest.jsonl`` (see ``hearing_clips``). Every recording
goes through the whole of the ears, endpointer included, in quiet and in conditions drawn for it,
in offers drawn from those in which it means something: everything, a sweep (the station said is
mostly the one that is awaited), all commands, a phase. Voices are split in five: what is done with
an utterance is judged by weights and limits (see ``hearing_limits``) fitted on the other four
fifths, and printed; then the weights and limits fitted on all, as they stand in
``devices/ears/neural/gates.py``. A fifth of the people is never heard here: the benchmark
hears them alone with ``--kept-out``. ``--keep FILE`` keeps what was heard, so that another fit of
the same takes seconds. With ``--adapters FILE`` (see ``hearing_adapter``) no voice is heard through
an adapter that it took part in fitting; how words sound is fitted first (see ``hearing_words``),
and no voice is judged by what it taught. ``--write`` puts that where the recogniser reads it.
"""

import argparse
import multiprocessing
import os
import pickle
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from assistant.commands.hear import offered
from assistant.devices.ears.endpoint import Cut, Endpointer
from assistant.devices.ears.hearing import Decoded, Ears, Limits
from assistant.devices.ears.neural.adapter import Adapter
from assistant.devices.ears.neural.evidence import Evidence, said_alike
from assistant.devices.ears.neural.gates import (
    CALL,
    GATES,
    Gates,
    gates_of,
    is_word,
    judged,
    on_the_dial,
)
from assistant.devices.ears.neural.neural_ears import Neural
from assistant.devices.ears.neural.word_sounds import WordSounds
from assistant.devices.ears.verify import verify
from assistant.dialogue.job import JOB
from assistant.dialogue.messages import Decision
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from assistant.simulation.noise import Signal
from grammar.meaning import Meaning, OffScale, Reading, Unclear
from grammar.offer import Offer
from grammar.parse import parse
from grammar.scale import Scale
from grammar.vocabulary import STATIONS
from grammar.written import as_spoken
from tests.benchmarks.fallback_fit import Floats, logistic
from tests.benchmarks.hearing_adapter import read_adapters
from tests.benchmarks.hearing_clips import FOLDS, Clip, clips_of, fold_of, is_kept_out, noises
from tests.benchmarks.hearing_conditions import condition
from tests.benchmarks.hearing_limits import Judged, limits_for
from tests.benchmarks.hearing_words import Word, sounds_of_others, write

DRAWN = (
    "fan:20", "fan:15", "fan:10", "fan:6", "motor:20", "motor:12", "taps:15", "taps:8",
    "babble:20", "babble:12", "room:0.3:0.4", "room:0.5:1.2", "room:0.7:1.8",
    "room:0.4:1.0+fan:18", "band", "band+fan:15", "level:-20", "clip:6",
)  # fmt: skip
"""Conditions of which each recording gets some, beside quiet."""

OF_EACH = 1
"""How many, if not said otherwise."""

NOBODY = 0.3
"""How much a voice counts that nobody has: formants and diphones."""

OUT_OF_TURN = 0.12
"""How often another station is awaited than is called."""


@dataclass(frozen=True, slots=True)
class Row:
    """One utterance as it was heard. ``meant``: what was said, as this offer takes it."""

    voice: str
    synthetic: bool
    condition: str
    said: str
    meant: Meaning
    offer: Offer
    evidence: Evidence

    @property
    def is_talk(self) -> bool:
        """Whether it was not for us."""
        return isinstance(self.meant, Unclear)

    @property
    def gates(self) -> Gates:
        """Those that it passes."""
        return gates_of(self.evidence)

    @property
    def is_right(self) -> bool:
        """Whether the likeliest meaning is what was meant."""
        return not self.is_talk and said_alike(self.meant, self.evidence.best.meaning)


def heard_rows(
    clips: Sequence[Clip], talkers: Sequence[Signal], adapters: dict[int, Adapter],
    of_each: int = OF_EACH,
) -> list[Row]:  # fmt: skip
    """Every clip in its conditions and offers, each by the adapter of its fold."""
    found = []
    for fold in range(FOLDS):
        theirs = [clip for clip in clips if fold_of(clip.voice) == fold]
        if theirs:
            ears = Ears(Neural(adapter=adapters.get(fold)), verify, Endpointer())
            found += _heard_by(ears, theirs, talkers, of_each)
    return found


def _heard_by(
    ears: Ears, clips: Sequence[Clip], talkers: Sequence[Signal], of_each: int
) -> list[Row]:
    rows: list[Row] = []
    for clip in clips:
        chance = random.Random(clip.name)
        for text in ("quiet", *chance.sample(DRAWN, of_each)):
            samples = condition(text).apply(clip.sound, clip.name, talkers)
            offer = _offer(clip, chance)
            ears.start_over()
            ears.arm(offer)
            meant = offer.taken(parse(clip.said, offer.scale))
            if clip.is_talk or not offer.allows(meant):
                meant = Unclear(clip.said)
            # Noise is heard whole: the endpointer keeps back most, not what is learnt of it.
            said = [*ears.feed(samples), *ears.flush()] if clip.said else [ears.whole(samples)]
            if len(said) > 1 and not clip.is_talk:
                continue
            found = [one.decoded.told for one in said]
            rows += [
                Row(
                    clip.voice,
                    clip.synthetic,
                    text,
                    clip.said,
                    meant,
                    offer,
                    on_the_dial(evidence, offer),
                )
                for evidence in found
                if isinstance(evidence, Evidence)
            ]
    return rows


def _offer(clip: Clip, chance: random.Random) -> Offer:
    """One of the offers in which this clip means something; talk is heard in any."""
    # No phase tells "zero" from "zeroed": where the job waits for one it takes either.
    wide = replace(offered("any", clip.scale), zeroing=True)
    every = [wide, *(offered(expect, clip.scale) for expect in ("reading", "command"))]
    phases = [phase for phase in JOB.table if phase not in (Close.CLOSED, Sweeping.SWEEP)]
    every += [phase_offer(phase, clip.scale) for phase in chance.sample(phases, 8)]

    def means(offer: Offer) -> bool:
        return offer.allows(offer.taken(parse(clip.said, offer.scale)))

    return _placed(
        chance.choice([one for one in every if clip.is_talk or means(one)]), clip, chance
    )


def _placed(offer: Offer, clip: Clip, chance: random.Random) -> Offer:
    """In a sweep the station that is said is mostly the one that comes next."""
    if not offer.readings or not offer.stations or len(offer.commands) > 8:
        return offer
    meant = parse(clip.said, offer.scale)
    said = meant.station if isinstance(meant, Reading | OffScale) else None
    if said is None or chance.random() < OUT_OF_TURN:
        return replace(offer, awaited=chance.choice(STATIONS))
    return replace(offer, awaited=said)


def parts_of(clips: Sequence[Clip], adapters: dict[int, Adapter], of_each: int) -> list[Row]:
    """The rows of all clips; every core of the computer takes its part."""
    cores = max(1, min(len(clips), os.cpu_count() or 1))
    talkers = [clip.sound for clip in clips if clip.is_talk and clip.said][:60]
    with ProcessPoolExecutor(cores, multiprocessing.get_context("spawn")) as pool:
        shares = [clips[core::cores] for core in range(cores)]
        others = ([each] * cores for each in (talkers, adapters, of_each))
        parts = pool.map(heard_rows, shares, *others)
        return [row for part in parts for row in part]


def by_sounds_of_others(rows: Sequence[Row]) -> tuple[list[Row], WordSounds]:
    """The same rows, each by how words sound that its voice did not teach; and what all teach."""
    words = [
        Word(row.voice, row.synthetic, "" if row.is_talk else row.said, row.evidence.profile)
        for row in rows
        if is_word(row.evidence) and row.evidence.profile is not None
    ]
    *folds, every = sounds_of_others(words)
    return [_by_sounds(row, folds[fold_of(row.voice)]) for row in rows], every


def _by_sounds(row: Row, sounds: WordSounds) -> Row:
    heard = row.evidence.profile
    likeness = {} if heard is None else sounds.likeness(heard)
    return replace(row, evidence=replace(row.evidence, likeness=likeness))


def is_sentence_of_ours(row: Row) -> bool:
    """Talk that sounds like one of ours: nobody can tell it from a call, so it teaches nothing."""
    said = as_spoken(row.said)
    return row.is_talk and not isinstance(parse(said, Scale(reach=999)), Unclear)


def talk_weights(rows: Sequence[Row]) -> Floats:
    """Weights of the gate against talk: from talk, and from calls that were understood."""
    theirs = [row for row in rows if row.is_talk or row.is_right]
    return _weights(theirs, [row.gates.talk.features(row.evidence) for row in theirs], _is_ours)


def value_weights(rows: Sequence[Row]) -> Floats:
    """Weights of the gate for the value: from calls, understood or not."""
    theirs = [row for row in rows if not row.is_talk]
    return _weights(theirs, [row.gates.value.features(row.evidence) for row in theirs], _is_right)


def _weights(
    rows: Sequence[Row], features: Sequence[tuple[float, ...]], truth: Callable[[Row], bool]
) -> Floats:
    return logistic(np.array(features), np.array([truth(row) for row in rows], float))


def _is_ours(row: Row) -> bool:
    return not row.is_talk


def _is_right(row: Row) -> bool:
    return row.is_right


@dataclass(frozen=True, slots=True)
class Seen:
    """An utterance and what is made of it by weights that never heard its voice."""

    row: Row
    decoded: Decoded

    @property
    def fold(self) -> int:
        """Which fifth of the voices it belongs to."""
        return fold_of(self.row.voice)

    @property
    def is_word(self) -> bool:
        """Whether the limits of single words hold."""
        return is_word(self.row.evidence)

    def told(self, limits: Limits) -> bool:
        """Whether it is told as off the dial."""
        first = self.decoded.hypotheses[0].meaning if self.decoded.hypotheses else None
        return isinstance(first, OffScale) and self.decoded.ours >= limits.ask

    def outcome(self, limits: Limits) -> Decision | Literal["told"]:
        """What is done with it at these limits."""
        return "told" if self.told(limits) else verify(replace(self.decoded, limits=limits), CUT)

    def judged(self) -> Judged:
        """The same for choosing limits."""
        first = self.decoded.hypotheses[0] if self.decoded.hypotheses else None
        free = Limits(0.0, 0.0, 0.0, 0.0)
        return Judged(
            self.decoded.ours if first else 0.0, first.confidence if first else 0.0,
            self.outcome(free) == "accept", self.told(free), self.row.is_talk, self.row.is_right,
            NOBODY if self.row.voice.startswith(("espeak", "flite")) else 1.0,
        )  # fmt: skip


CUT = Cut("final", 0.0, 1.0, np.zeros(1, np.int16), 60.0, 20.0, 40.0)


def seen_by_others(rows: Sequence[Row]) -> list[Seen]:
    """Every utterance by weights of the other four fifths of the voices."""
    seen = []
    for fold in range(FOLDS):
        rest = [row for row in rows if fold_of(row.voice) != fold]
        weights = {gate: tuple(map(float, found)) for gate, found in fitted_gates(rest)}
        for row in rows:
            if fold_of(row.voice) == fold:
                talk, value = (weights[gate.name] for gate in row.gates)
                seen.append(Seen(row, judged(row.evidence, row.offer, talk, value)))
    return seen


def fitted_gates(rows: Sequence[Row]) -> Iterator[tuple[str, Floats]]:
    """The weights of each gate, by its name."""
    for place, fit in enumerate((talk_weights, value_weights)):
        for gate in dict.fromkeys(gates[place] for gates in GATES.values()):
            if theirs := [row for row in rows if row.gates[place] is gate]:
                yield gate.name, fit(theirs)


def limits_of(seen: Sequence[Seen]) -> dict[bool, Limits]:
    """The limits of sentences (False) and of single words (True)."""
    return {
        word: limits_for([one.judged() for one in seen if one.is_word is word])
        for word in (False, True)
    }


def judged_by_others(seen: Sequence[Seen]) -> Iterator[tuple[Row, Decision | Literal["told"]]]:
    """Every utterance with what is done with it; limits too are of the other fifths."""
    for fold in range(FOLDS):
        limits = limits_of([one for one in seen if one.fold != fold])
        for one in seen:
            if one.fold == fold:
                yield one.row, one.outcome(limits[one.is_word])


def kind_of(row: Row) -> str:
    """What was said, roughly, and by whom."""
    whose = "voices" if row.synthetic else "people"
    match row.meant:
        case Unclear():
            return f"talk, {whose}" if row.said else "noise"
        case OffScale(reason=reason):
            return f"{reason}, {whose}"
        case Reading(signed=signed):
            return f"{'signed' if signed else 'bare'}, {whose}"
        case _:
            return f"command, {whose}"


def table(seen: Sequence[Seen]) -> Iterator[str]:
    """Lines: by what was said and how loud the noise, what was done, in percent."""
    counts: dict[tuple[str, str], Counter[str]] = {}
    for row, outcome in judged_by_others(seen):
        quiet = "quiet" if row.condition in ("quiet", "level:-20", "clip:6") else "noise, rooms"
        verdict = outcome if row.is_talk else f"{outcome} {'right' if row.is_right else 'wrong'}"
        counts.setdefault((kind_of(row), quiet), Counter())[verdict] += 1
    for (kind, quiet), counted in sorted(counts.items()):
        total = counted.total()
        shares = (f"{name} {100 * count / total:.1f}" for name, count in sorted(counted.items()))
        yield f"{kind:18} {quiet:13} {total:5}  {', '.join(shares)}"


def main(argv: Sequence[str] | None = None) -> int:
    """The command line."""
    parser = argparse.ArgumentParser(prog="hearing_fit", description="Fit the gates of the ears.")
    parser.add_argument("folders", nargs="+", type=Path, metavar="FOLDER")
    parser.add_argument(
        "--adapters", type=Path, metavar="FILE", help="of each fold, from hearing_adapter"
    )
    parser.add_argument("--each", type=int, default=OF_EACH, metavar="N", help="conditions of each")
    parser.add_argument("--keep", type=Path, metavar="FILE", help="what was heard, for another fit")
    parser.add_argument("--write", action="store_true", help="how words sound, where it is read")
    given = parser.parse_args(argv)
    if given.keep and given.keep.exists():
        rows = pickle.loads(given.keep.read_bytes())
    else:
        clips = [c for folder in given.folders for c in clips_of(folder) if not is_kept_out(c)]
        rows = parts_of([*clips, *noises()], read_adapters(given.adapters), given.each)
        if given.keep:
            given.keep.write_bytes(pickle.dumps(rows))
    rows, sounds = by_sounds_of_others([row for row in rows if not is_sentence_of_ours(row)])
    seen = seen_by_others(rows)
    sys.stdout.write(
        f"{len(rows)} utterances; percent, by weights and limits that never heard the voice\n"
    )
    sys.stdout.writelines(f"{line}\n" for line in table(seen))
    for name, weights in fitted_gates(rows):
        numbers = ", ".join(f"{weight:.3g}" for weight in weights)
        sys.stdout.write(f"{name}_WEIGHTS = ({numbers})\n")
    for name, one in zip(("LIMITS", "WORD_LIMITS"), limits_of(seen).values(), strict=True):
        numbers = f"ours={one.ours}, right={one.right}, ask={max(one.ask, CALL)}"
        sys.stdout.write(f"{name} = Limits({numbers}, call=CALL)\n")
    if given.write:
        sys.stdout.write(write(sounds))
    return 0


if __name__ == "__main__":
    sys.exit(main())
