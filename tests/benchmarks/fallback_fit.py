"""Fits the embedded recogniser: ``python -m tests.benchmarks.fallback_fit FOLDER [PART ...]``.

The folder holds single utterances and a ``manifest.jsonl`` (see ``hearing_clips``), voices for
fitting only. Parts: ``prior`` writes the mixture model of clean speech, the swing of the cepstra
and the phone pairs of the dictionary (``speech_prior.npz``) to where the program keeps them;
``gates`` prints the weights of ``fallback.gates``. The prior is fitted on spectra moved to the warp
that the present prior chooses; run it twice to settle. The gates are fitted with clean speech, fan
noise at 20 and 10 dB and a noise drawn for each clip, in two offers drawn from those of everything,
of a sweep, of all commands and of the phases where the call means something.
"""

import multiprocessing
import os
import random
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import TextIO

import numpy as np
import numpy.typing as npt
import pocketsphinx

from assistant.commands.hear import offered
from assistant.devices.ears.endpoint import Endpointer
from assistant.devices.ears.fallback.acoustics.evidence import Evidence, Prepared, shipped_prior
from assistant.devices.ears.fallback.acoustics.features import (
    SpeechPrior,
    centre_and_swing,
    cepstra,
    clean_speech,
    mel_filters,
    power_spectrum,
)
from assistant.devices.ears.fallback.acoustics.model_files import AcousticModel, read_model
from assistant.devices.ears.fallback.acoustics.person import Person
from assistant.devices.ears.fallback.gates import is_word, meanings, ours_features, right_features
from assistant.devices.ears.fallback.pocketsphinx_ears import listening, prepared
from assistant.devices.ears.fallback.pocketsphinx_library import Dictionary, model_folder
from assistant.devices.sound.files import Samples
from assistant.dialogue.job import JOB
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from assistant.simulation.noise import NoiseKind, Signal, to_int16
from grammar.meaning import Unclear
from grammar.offer import Offer, everything
from tests.benchmarks.hearing_clips import Clip, clips_of, in_noise, same

Floats = npt.NDArray[np.float64]

COMPONENTS, PASSES, SEED = 128, 20, 0
ALWAYS: tuple[tuple[NoiseKind | None, float], ...] = ((None, 0.0), ("fan", 20.0), ("fan", 10.0))
DRAWN: tuple[tuple[NoiseKind, float], ...] = (
    ("motor", 20.0), ("motor", 15.0), ("motor", 10.0), ("fan", 15.0), ("fan", 5.0),
    ("taps", 20.0), ("taps", 15.0), ("babble", 20.0), ("babble", 15.0), ("air", 20.0),
    ("white", 15.0),
)  # fmt: skip
OFFERS = 2
"""Offers in which a clip is heard in each noise."""

ACOUSTICS = Path(__file__).parents[2] / "assistant" / "devices" / "ears" / "fallback" / "acoustics"


class _Searcher:
    """The search, with every offer that the clips need."""

    def __init__(self) -> None:
        self._dictionary = Dictionary()
        self._listening = listening(self._dictionary)
        self._ready: dict[Offer, Prepared] = {}

    def __call__(self, offer: Offer, samples: Samples) -> Evidence | None:
        if offer not in self._ready:
            self._ready[offer] = prepared(self._listening, self._dictionary, offer)
        return self._listening.hear(self._ready[offer], samples, Person())


def fit_prior(clips: Iterable[Clip], search: _Searcher) -> SpeechPrior:
    """The mixture model of clean speech and the usual swing of its cepstra."""
    present, _ = shipped_prior()
    spectra: list[Floats] = []
    swings: list[Floats] = []
    for clip in clips:
        if isinstance(clip.meaning, Unclear):
            continue
        for samples in _cuts(to_int16(clip.sound)):
            found = search(everything(clip.scale), samples)
            if found is None:
                continue
            mel = power_spectrum(samples) @ mel_filters(found.measures.warp)
            level = np.log(np.quantile(mel.sum(axis=1), 0.95) + 1)
            spectra.append(np.log(np.maximum(mel, 1e-3)) - level)
            cleaned = cepstra(clean_speech(mel, present))
            swings.append(centre_and_swing(cleaned)[1])
    return SpeechPrior(*mixture(np.concatenate(spectra)), np.mean(swings, axis=0))


def mixture(values: Floats) -> tuple[Floats, Floats, Floats]:
    """Means, variances and weights of a mixture of Gaussians, by expectation-maximisation."""
    chance = np.random.default_rng(SEED)
    means = values[chance.choice(len(values), COMPONENTS, replace=False)]
    variances = np.tile(values.var(axis=0), (COMPONENTS, 1))
    weights = np.full(COMPONENTS, 1 / COMPONENTS)
    for _ in range(PASSES):
        inverse = 1 / variances
        constant = np.log(weights) - 0.5 * ((means**2 * inverse).sum(1) + np.log(variances).sum(1))
        fit = values @ (means * inverse).T - 0.5 * values**2 @ inverse.T + constant
        share = np.exp(fit - fit.max(axis=1, keepdims=True))
        share /= share.sum(axis=1, keepdims=True)
        count = share.sum(axis=0) + 1e-3
        weights = count / count.sum()
        means = share.T @ values / count[:, None]
        variances = np.maximum(share.T @ values**2 / count[:, None] - means**2, 0.1)
    return means, variances, weights


def phone_pairs(model: AcousticModel, dictionary: Path) -> Floats:
    """Log probability of each phone after each, over all words of a dictionary.

    Half of all words follow the one before without silence; noises are one in a thousand.
    """
    silence, size = model.silence, len(model.phones)
    counts = np.full((size, size), 0.5)
    for row in dictionary.read_text(encoding="utf-8").splitlines():
        phones = row.split()[1:]
        if phones and all(phone in model.number for phone in phones):
            chain = [silence, *(model.number[phone] for phone in phones), silence]
            np.add.at(counts, (chain[:-1], chain[1:]), 1)
    begin = counts[silence].copy()
    begin[silence] = 0
    begin /= begin.sum()
    for phone in range(size):
        if phone != silence:
            counts[phone] += counts[phone, silence] * begin
    for name in ("+NSN+", "+SPN+"):
        counts[:, model.number[name]] = counts.sum(axis=1) * 1e-3
        counts[model.number[name]] = counts[silence]
    counts[silence, silence] = 0.1 * counts[silence].sum()
    logs: Floats = np.log(counts / counts.sum(axis=1, keepdims=True))
    return logs


@dataclass
class _Rows:
    """What the gates saw, and what was the truth."""

    ours: list[tuple[float, ...]] = field(default_factory=list)
    is_ours: list[bool] = field(default_factory=list)
    word: list[tuple[float, ...]] = field(default_factory=list)
    is_word: list[bool] = field(default_factory=list)
    right: list[tuple[float, ...]] = field(default_factory=list)
    is_right: list[bool] = field(default_factory=list)


def fit_gates(clips: Sequence[Clip], out: TextIO) -> None:
    """Print the weights of the gates. Every core of the computer takes its part of the clips."""
    cores = max(1, min(len(clips), os.cpu_count() or 1))
    talkers = [clip.sound for clip in clips if clip.is_talk][:60]
    shares = [list(enumerate(clips))[core::cores] for core in range(cores)]
    with ProcessPoolExecutor(cores, multiprocessing.get_context("spawn")) as pool:
        parts = list(pool.map(_gate_rows, shares, [talkers] * cores))
    for name in ("word", "ours", "right"):
        rows = [row for part in parts for row in getattr(part, name)]
        truth = [one for part in parts for one in getattr(part, f"is_{name}")]
        weights = logistic(np.array(rows), np.array(truth, float))
        numbers = ", ".join(f"{weight:.3g}" for weight in weights)
        out.write(f"{name.upper()}_WEIGHTS = ({numbers})  # {sum(truth)} of {len(rows)}\n")


def _gate_rows(clips: Sequence[tuple[int, Clip]], talkers: Sequence[Signal]) -> _Rows:
    """Each clip in its noises and offers; its number says what is drawn for it."""
    search, found = _Searcher(), _Rows()
    for index, clip in clips:
        chance = random.Random(index)
        for kind, ratio in (*ALWAYS, chance.choice(DRAWN)):
            cuts = _cuts(in_noise(clip.sound, kind, ratio, index, talkers))
            for offer in _offers(clip, chance):
                for samples in cuts:
                    _note(found, clip, offer, search(offer, samples))
    return found


def _note(found: _Rows, clip: Clip, offer: Offer, evidence: Evidence | None) -> None:
    taken = meanings(evidence, offer) if evidence else []
    if evidence is None or not taken:
        return
    good = same(taken[0].meaning, offer.taken(clip.meaning))
    if clip.is_talk or good:
        alone = is_word(taken, evidence.measures)
        rows, truth = (found.word, found.is_word) if alone else (found.ours, found.is_ours)
        rows.append(ours_features(taken, evidence.measures))
        truth.append(not clip.is_talk)
    if not clip.is_talk:
        found.right.append(right_features(taken, evidence.measures))
        found.is_right.append(good)


def _offers(clip: Clip, chance: random.Random) -> list[Offer]:
    """Offers drawn from those in which this clip means something; talk is heard in any."""
    every = [offered(expect, clip.scale) for expect in ("any", "reading", "command")]
    phases = [phase for phase in JOB.table if phase not in (Close.CLOSED, Sweeping.SWEEP)]
    phase_offers = [phase_offer(phase, clip.scale) for phase in phases]
    fitting = [one for one in phase_offers if clip.is_talk or one.allows(clip.meaning)]
    if fitting:
        every.append(chance.choice(fitting))
    found = [one for one in every if clip.is_talk or one.allows(clip.meaning)]
    return chance.sample(found, min(OFFERS, len(found)))


class Columns:
    """Takes off the mean and the spread of each column; the first is constant and stays."""

    def __init__(self, rows: Floats) -> None:
        self._centre, self._spread = rows.mean(axis=0), rows.std(axis=0)
        self._centre[0], self._spread[self._spread == 0] = 0.0, 1.0

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self._centre)

    def scaled(self, rows: Floats) -> Floats:
        """These rows so standardised."""
        found: Floats = (rows - self._centre) / self._spread
        return found

    def plain(self, weights: Floats) -> Floats:
        """Weights of standardised rows, one a column or a table of such, as those of plain rows."""
        found: Floats = (weights.T / self._spread).T
        found[0] -= self._centre @ found
        return found


def logistic(rows: Floats, truth: Floats, stiffness: float = 1.0) -> Floats:
    """Weights of a logistic regression, the first for the constant one.

    Newton's method on standardised columns, with a ridge of ``stiffness`` on all but the
    constant.
    """
    columns = Columns(rows)
    scaled = columns.scaled(rows)
    ridge = stiffness * np.eye(rows.shape[1])
    ridge[0, 0] = 1e-6

    def cost(weights: Floats) -> float:
        fit = scaled @ weights
        return float((np.logaddexp(0, fit) - truth * fit).sum() + weights @ ridge @ weights / 2)

    weights = np.zeros(rows.shape[1])
    for _ in range(60):
        chance = 1 / (1 + np.exp(-scaled @ weights))
        slope = scaled.T @ (chance - truth) + ridge @ weights
        curve = (scaled * (chance * (1 - chance))[:, None]).T @ scaled + ridge
        step = np.linalg.solve(curve, slope)
        size = 1.0
        while cost(weights - size * step) > cost(weights) and size > 1e-4:
            size /= 2
        weights = weights - size * step
        if np.abs(size * step).max() < 1e-7:
            break
    return columns.plain(weights)


def _cuts(samples: Samples) -> list[Samples]:
    endpointer = Endpointer()
    cuts = [*endpointer.feed(samples), *endpointer.flush()]
    return [cut.samples for cut in cuts if cut.state == "final" and not cut.overlong]


def main(arguments: Sequence[str]) -> int:
    """Fit the named parts, or all, on a folder of clips."""
    known = ("prior", "gates")
    parts = tuple(arguments[1:]) or known
    if not arguments or not set(parts) <= set(known):
        sys.stderr.write(f"give a folder with a manifest.jsonl, and parts: {', '.join(known)}\n")
        return 2
    clips = list(clips_of(Path(arguments[0])))
    if "prior" in parts:
        _write_prior(fit_prior(clips, _Searcher()))
    if "gates" in parts:
        fit_gates(clips, sys.stdout)
    return 0


def _write_prior(prior: SpeechPrior) -> None:
    dictionary = Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"))
    np.savez(
        ACOUSTICS / "speech_prior.npz",
        means=prior.means.astype(np.float16),
        variances=prior.variances.astype(np.float16),
        weights=prior.weights.astype(np.float32),
        swing=prior.swing.astype(np.float32),
        pairs=phone_pairs(read_model(model_folder()), dictionary).astype(np.float16),
    )


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
