"""Fits what the ears know: ``python -m assistant.simulation.hearing_fit FOLDER [OUT]``.

The folder holds single utterances and a ``manifest.jsonl`` (see ``hearing_benchmark``),
voices for fitting only. Written to OUT (default ``speech_prior.npz``): the mixture model of
clean speech, the swing of the cepstra and the phone pairs of the dictionary. Printed: the
weights of the two gates of ``verify``. The prior is fitted on spectra moved to the warp
that the present prior chooses; run it twice to settle. The gates are fitted with clean
speech and a noise drawn for each clip.
"""

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TextIO

import numpy as np
import numpy.typing as npt
import pocketsphinx

from assistant.devices.acoustics.evidence import Evidence, Listening, Prepared, shipped_prior
from assistant.devices.acoustics.features import (
    SpeechPrior,
    cepstra,
    clean_speech,
    mel_filters,
    power_spectrum,
)
from assistant.devices.acoustics.model_files import AcousticModel, read_model
from assistant.devices.endpoint import Endpointer
from assistant.devices.pocketsphinx_library import SafeDecoder, model_folder
from assistant.devices.sound_file import Samples
from assistant.devices.verify import meanings, ours_features, right_features
from assistant.simulation.hearing_benchmark import Clip, clips_of, same
from assistant.simulation.noise import NoiseKind, mix, noise, to_int16
from grammar.meaning import Unclear
from grammar.offer import Offer, everything
from grammar.sentences import sentences, words_of

Floats = npt.NDArray[np.float64]

COMPONENTS, PASSES, SEED = 128, 20, 0
NOISES: tuple[tuple[NoiseKind | None, float], ...] = (
    (None, 0.0), ("fan", 20.0), ("fan", 10.0), ("motor", 15.0), ("taps", 20.0), ("babble", 15.0),
)  # fmt: skip


class _Searcher:
    """The search, with every offer that the clips need."""

    def __init__(self) -> None:
        prior, pairs = shipped_prior()
        self._listening = Listening(read_model(model_folder()), prior, pairs)
        self._dictionary = SafeDecoder()
        self._ready: dict[Offer, Prepared] = {}

    def __call__(self, offer: Offer, samples: Samples) -> Evidence | None:
        if offer not in self._ready:
            root = sentences(offer)
            words = words_of(root)
            self._dictionary.teach(words)
            sounds = {w: [way.split() for way in self._dictionary.sounds(w)] for w in words}
            self._ready[offer] = self._listening.prepare(root, sounds)
        return self._listening.hear(self._ready[offer], samples)


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
            swings.append(cleaned[cleaned[:, 0] >= 0].std(axis=0))
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


def fit_gates(clips: Sequence[Clip], search: _Searcher, out: TextIO) -> None:
    """Print the weights of both gates."""
    ours: list[tuple[float, ...]] = []
    is_ours: list[bool] = []
    right: list[tuple[float, ...]] = []
    is_right: list[bool] = []
    talkers = [clip.sound for clip in clips if isinstance(clip.meaning, Unclear)][:60]
    for index, clip in enumerate(clips):
        for kind, ratio in (NOISES[0], NOISES[1 + index % (len(NOISES) - 1)]):
            sound = clip.sound
            if kind is not None:
                chance = np.random.default_rng([index, round(ratio)])
                sound = mix(sound, noise(kind, len(sound), chance, talkers), ratio)
            for samples in _cuts(to_int16(sound)):
                offer = everything(clip.scale)
                evidence = search(offer, samples)
                found = meanings(evidence, offer) if evidence else []
                if evidence is None or not found:
                    continue
                talk = isinstance(clip.meaning, Unclear)
                good = same(found[0].meaning, clip.meaning)
                if talk or good:
                    ours.append(ours_features(found, evidence.measures))
                    is_ours.append(not talk)
                if not talk:
                    right.append(right_features(found, evidence.measures))
                    is_right.append(good)
    for name, rows, truth in (("OURS", ours, is_ours), ("RIGHT", right, is_right)):
        weights = logistic(np.array(rows), np.array(truth, float))
        numbers = ", ".join(f"{weight:.3g}" for weight in weights)
        out.write(f"{name}_WEIGHTS = ({numbers})  # {len(rows)} utterances\n")


def logistic(rows: Floats, truth: Floats, stiffness: float = 1.0) -> Floats:
    """Weights of a logistic regression, the first for the constant one.

    Newton's method on standardised columns, with a ridge of ``stiffness`` on all but the
    constant.
    """
    centre, spread = rows.mean(axis=0), rows.std(axis=0)
    centre[0], spread[spread == 0] = 0.0, 1.0
    scaled = (rows - centre) / spread
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
    found: Floats = weights / spread
    found[0] -= float((weights[1:] * centre[1:] / spread[1:]).sum())
    return found


def _cuts(samples: Samples) -> list[Samples]:
    endpointer = Endpointer()
    cuts = [*endpointer.feed(samples), *endpointer.flush()]
    return [cut.samples for cut in cuts if cut.state == "final" and not cut.overlong]


def main(arguments: Sequence[str]) -> int:
    """Fit everything on a folder of clips."""
    if len(arguments) not in (1, 2):
        sys.stderr.write("give a folder with a manifest.jsonl, and a file for the prior\n")
        return 2
    clips = list(clips_of(Path(arguments[0])))
    search = _Searcher()
    prior = fit_prior(clips, search)
    dictionary = Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"))
    np.savez(
        arguments[1] if len(arguments) == 2 else "speech_prior.npz",
        means=prior.means.astype(np.float16),
        variances=prior.variances.astype(np.float16),
        weights=prior.weights.astype(np.float32),
        swing=prior.swing.astype(np.float32),
        pairs=phone_pairs(read_model(model_folder()), dictionary).astype(np.float16),
    )
    fit_gates(clips, search, sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
