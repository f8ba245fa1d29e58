"""The model itself, run by ``onnxruntime`` on one thread: sound in, log probabilities out.

An encoder turns the sound into vectors; a decoder, given the tokens so far, says how likely
each token is to be next (an encoder-decoder transformer with cross-attention).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.neural.model_files import AGAIN, ModelFiles
from assistant.devices.onnx_session import Session, runtime

Floats = npt.NDArray[np.float32]

LAYERS, HEADS, WIDTH = 6, 8, 36
"""Of the decoder: its layers, its heads of attention in each, and the width of a head."""

SURELY_OVER = 0.999
"""A text is never surer to end than this, so that there is a share for what goes on."""

MOST = 9
"""Hypotheses in one batch at most: those of the beam and the free text."""

_CACHE = tuple(
    f"past_key_values.{layer}.{whose}.{what}"
    for layer in range(LAYERS)
    for whose in ("decoder", "encoder")
    for what in ("key", "value")
)
_OWN = tuple(name for name in _CACHE if ".decoder." in name)
_SHARED = tuple(name for name in _CACHE if ".encoder." in name)
_PRESENT = {name: name.replace("past_key_values", "present") for name in _CACHE}
_LATER = ["logits", *(_PRESENT[name] for name in _OWN)]
"""What a later step gives again: what attends to the sound stays as the first step left it."""


@dataclass(frozen=True, slots=True)
class Encoded:
    """A sound as the encoder left it. ``vectors``: (1, T, 288); ``samples``: its length."""

    vectors: Floats
    samples: int


@dataclass(frozen=True, slots=True)
class Memory:
    """What the decoder keeps. ``own``: of each hypothesis, hypotheses first; ``shared``: of the
    sound, the same row for ``MOST`` hypotheses, with what else is the same at every step."""

    own: dict[str, Floats]
    shared: dict[str, npt.NDArray[np.generic]]

    def picked(self, rows: list[int]) -> "Memory":
        """The same for these hypotheses, in this order; one may be picked more than once."""
        if rows == list(range(len(next(iter(self.own.values()))))):
            return self
        return Memory({name: values[rows] for name, values in self.own.items()}, self.shared)


class Transducer:
    """The two halves of the model. Raises ``RecogniserError`` when the runtime refuses them."""

    def __init__(self, files: ModelFiles) -> None:
        try:
            onnxruntime = runtime()
        except ImportError as error:
            raise RecogniserError(
                "onnxruntime cannot be loaded; install it: pip install onnxruntime"
            ) from error
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 4
        options.add_session_config_entry("session.load_model_format", "ORT")
        try:
            self._encoder, self._decoder = (
                Session(str(model), options) for model in (files.encoder, files.decoder)
            )
        except Exception as error:
            raise RecogniserError(f"onnxruntime cannot load the speech model; {AGAIN}") from error

    def encode(self, sound: Floats) -> Encoded:
        """Vectors of a sound: float32, 16 kHz, full scale 1."""
        batch = sound[None]
        mask = np.ones(batch.shape, np.int64)
        (vectors,) = self._encoder.run(None, {"input_values": batch, "attention_mask": mask})
        return Encoded(vectors, len(sound))

    def first(self, encoded: Encoded, begin: int) -> tuple[Floats, Memory]:
        """Log probabilities (1, tokens) of the first token, and the memory of it."""
        logits, *kept = self._decoder.run(
            None,
            {
                "input_ids": np.array([[begin]], np.int64),
                "encoder_hidden_states": encoded.vectors,
                "encoder_attention_mask": np.ones((1, encoded.samples), np.int64),
                "use_cache_branch": np.array([False]),
                **{name: np.zeros((0, HEADS, 1, WIDTH), np.float32) for name in _CACHE},
            },
        )
        memory = dict(zip(_CACHE, kept, strict=True))
        shared: dict[str, npt.NDArray[np.generic]] = {
            "encoder_hidden_states": np.repeat(encoded.vectors, MOST, axis=0),
            "encoder_attention_mask": np.ones((MOST, encoded.samples), np.int64),
            **{name: np.repeat(memory[name], MOST, axis=0) for name in _SHARED},
        }
        return _logs(logits), Memory({name: memory[name] for name in _OWN}, shared)

    def next(self, tokens: list[int], memory: Memory) -> tuple[Floats, Memory]:
        """Log probabilities (hypotheses, tokens) after one more token of each hypothesis.

        There may be ``MOST`` hypotheses at most.
        """
        logits, *grown = self._decoder.run(
            _LATER,
            {
                "input_ids": np.array(tokens, np.int64)[:, None],
                "use_cache_branch": np.array([True]),
                **memory.own,
                **{name: values[: len(tokens)] for name, values in memory.shared.items()},
            },
        )
        return _logs(logits), Memory(dict(zip(_OWN, grown, strict=True)), memory.shared)

    def scores(
        self, encoded: Encoded, begin: int, end: int, texts: Sequence[tuple[int, ...]]
    ) -> Floats:
        """Log probability of each text, its end included: all of them in one run, (texts,)."""
        taught = self._taught(encoded, begin, end, texts)
        found = [
            told[np.arange(len(told)), [*text, end]].sum()
            for text, told in zip(texts, taught, strict=True)
        ]
        return np.array(found, np.float32)

    def unended(self, encoded: Encoded, begin: int, end: int, text: tuple[int, ...]) -> float:
        """Log probability of the tokens of a text, where it is known to go on at each."""
        (told,) = self._taught(encoded, begin, end, [text])
        going_on = np.log1p(-np.minimum(np.exp(told[:-1, end]), SURELY_OVER))
        return float((told[np.arange(len(text)), list(text)] - going_on).sum())

    def _taught(
        self, encoded: Encoded, begin: int, end: int, texts: Sequence[tuple[int, ...]]
    ) -> Iterator[Floats]:
        """Of each text the log probabilities of what follows each token, (places, tokens)."""
        longest = max(map(len, texts)) + 1
        given = np.full((len(texts), longest), end, np.int64)
        for row, text in zip(given, texts, strict=True):
            row[: len(text) + 1] = (begin, *text)
        (logits,) = self._decoder.run(
            ["logits"],
            {
                "input_ids": given,
                "encoder_hidden_states": np.repeat(encoded.vectors, len(texts), axis=0),
                "encoder_attention_mask": np.ones((len(texts), encoded.samples), np.int64),
                "use_cache_branch": np.array([False]),
                **{name: np.zeros((0, HEADS, 1, WIDTH), np.float32) for name in _CACHE},
            },
        )
        for text, each in zip(texts, logits, strict=True):
            # One text at a time: each takes a megabyte for seven tokens, in every copy.
            yield _log_softmax(each[: len(text) + 1])


def _logs(logits: Floats) -> Floats:
    """The last position's log probabilities over the tokens."""
    return _log_softmax(logits[:, -1])


def _log_softmax(logits: Floats) -> Floats:
    """Log probabilities over the last axis."""
    below = logits - logits.max(axis=-1, keepdims=True)
    found: Floats = below - np.log(np.exp(below).sum(axis=-1, keepdims=True))
    return found
