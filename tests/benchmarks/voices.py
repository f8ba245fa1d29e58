"""How well the program's own voice is understood: ``python -m tests.benchmarks.voices``.

Every prompt of the golden list is spoken by each voice and written down by the neural
recogniser, without any grammar, in quiet and in noise. The share of words that come out wrong
stands in for a listener: people know what to expect and do better, but the order of the voices
is plain. Beside it the extended short-time objective intelligibility (ESTOI: Jensen and Taal,
2016; by ``pystoi``) of what is heard in the noise against the same voice without it.

Signal-to-noise ratios are of active speech level (ITU-T P.56), so a voice gains nothing by
being louder; that it may be turned up in noise comes on top.
"""

import argparse
import re
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import soxr  # type: ignore[import-untyped]  # the library ships no type information
from num2words import num2words

from assistant.devices.ears.neural.model_files import read_model_files
from assistant.devices.ears.neural.tokens import BEGIN, END, Tokens
from assistant.devices.ears.neural.transducer import Transducer
from assistant.devices.voice.compression import compressed
from assistant.devices.voice.espeak import Espeak
from assistant.devices.voice.neural_voice import NeuralVoice
from assistant.devices.voice.speech_engine import SpeechEngine, VoiceSettings
from assistant.simulation.noise import RATE, NoiseKind, Signal, mix, noise

PROMPTS = Path(__file__).parents[1] / "dialogue" / "prompts.txt"

CONDITIONS: tuple[tuple[NoiseKind, float] | None, ...] = (
    None, ("fan", 10.0), ("fan", 5.0), ("motor", 5.0), ("air", 5.0),
)  # fmt: skip

LEVEL = 0.1
"""Root mean square that every prompt is brought to before the noise."""

QUIET_S = 0.2
"""Silence before and after a prompt."""

Speak = Callable[[str], Signal]
"""A text to float samples at 16 kHz."""


@dataclass(frozen=True, slots=True)
class Row:
    """One voice: word errors in percent and ESTOI for each condition, pace, processor."""

    name: str
    errors: tuple[float, ...]
    estoi: tuple[float | None, ...]
    words_per_minute: float
    cpu_s: float


def prompts(every: int) -> list[str]:
    """Each ``every``-th of the golden prompts that hold between 2 and 22 words."""
    lines = PROMPTS.read_text(encoding="utf-8").splitlines()
    texts = [line.partition(": ")[2].strip() for line in lines]
    return [text for text in dict.fromkeys(texts) if 2 <= len(text.split()) <= 22][::every]


def plain(text: str) -> list[str]:
    """The words of a text as they are compared: lower case, numbers in words, no marks.

    >>> plain("Plus 15, and a half.")
    ['plus', 'fifteen', 'a', 'half']
    """

    def words(match: re.Match[str]) -> str:
        number = match[0]
        spoken: str = num2words(float(number) if "." in number else int(number))
        return f" {spoken} "

    text = (
        text.lower().replace("½", " a half ").replace("+", " plus ").replace("mm", " millimetres")
    )
    text = re.sub(r"\d+(\.\d+)?", words, text).replace("millimeter", "millimetre")
    found = re.sub(r"[^a-z ]", " ", text.replace("'", ""))
    return [word for word in found.split() if word != "and"]


def wrong_words(said: list[str], heard: list[str]) -> int:
    """The word edit distance (Levenshtein): substitutions, insertions and deletions."""
    row = list(range(len(heard) + 1))
    for i, word in enumerate(said, 1):
        before, row[0] = row[0], i
        for j, other in enumerate(heard, 1):
            here = min(row[j] + 1, row[j - 1] + 1, before + (word != other))
            before, row[j] = row[j], here
    return row[-1]


def spoken_by(engine: SpeechEngine, settings: VoiceSettings, text: str) -> Signal:
    """A text as an engine speaks it, at 16 kHz."""
    speech = engine.synthesise(text, settings)
    made: Signal = soxr.resample(speech.samples / 32768, speech.rate, RATE)
    return made


def voices() -> Iterator[tuple[str, Speak]]:
    """The voices side by side, each under the name that the table shows."""
    espeak = Espeak()
    for name, rate in (("en-us+f2", 165), ("en-us+f2", 140), ("en-us", 165)):
        yield f"espeak-ng {name} {rate}", partial(spoken_by, espeak, VoiceSettings(name, rate))
    softer = VoiceSettings("en-us+f2")
    yield "espeak-ng, compressed", lambda text: compressed(spoken_by(espeak, softer, text), RATE)
    for rate in (200, 165, 145):
        yield (
            f"neural {rate}",
            partial(spoken_by, NeuralVoice(espeak.phonemes), VoiceSettings(rate_wpm=rate)),
        )
    bare = NeuralVoice(espeak.phonemes, compress=False)
    yield "neural 165, not compressed", partial(spoken_by, bare, VoiceSettings())


def dictation() -> Callable[[Signal], str]:
    """The neural recogniser by itself: sound at 16 kHz to whatever text it finds likeliest."""
    files = read_model_files()
    model, tokens = Transducer(files), Tokens(files.tokens)

    def write(sound: Signal) -> str:
        encoded = model.encode(sound.astype(np.float32))
        logs, memory = model.first(encoded, BEGIN)
        written: list[int] = []
        while (best := int(np.argmax(logs[0]))) != END and len(written) < 8 * len(sound) / RATE:
            written.append(best)
            logs, memory = model.next([best], memory)
        return tokens.decode(tuple(written))

    return write


def estoi(clean: Signal, heard: Signal) -> float | None:
    """ESTOI by pystoi; None without the package, or where a prompt is too short for it."""
    try:
        from pystoi import stoi
    except ImportError:
        return None
    if len(clean) < RATE:
        return None
    return float(stoi(clean, heard, RATE, extended=True))


def measured(name: str, speak: Speak, texts: list[str], write: Callable[[Signal], str]) -> Row:
    """One voice over all prompts and conditions."""
    began = time.process_time()
    sounds = [speak(text) for text in texts]
    cpu_s = (time.process_time() - began) / len(texts)
    said = [plain(text) for text in texts]
    count = sum(map(len, said))
    errors, clear = [], []
    for condition in CONDITIONS:
        chance = np.random.default_rng(5)
        wrong, values = 0, []
        for words, sound in zip(said, sounds, strict=True):
            quiet = np.pad(sound * (LEVEL / np.sqrt(np.mean(sound**2))), round(QUIET_S * RATE))
            heard = quiet
            if condition is not None:
                heard = mix(quiet, noise(condition[0], len(quiet), chance), condition[1])
            values.append(estoi(quiet, heard) if condition else None)
            written = write(heard / max(1.0, float(np.max(np.abs(heard)))))
            wrong += wrong_words(words, plain(written))
        told = [value for value in values if value is not None]
        errors.append(100 * wrong / count)
        clear.append(float(np.mean(told)) if told else None)
    seconds = sum(map(len, sounds)) / RATE
    return Row(name, tuple(errors), tuple(clear), 60 * count / seconds, cpu_s)


def heading() -> str:
    """The table's first line."""
    names = ["quiet" if each is None else f"{each[0]} {each[1]:g}" for each in CONDITIONS]
    return f"{'voice':28}" + "".join(f"{name:>16}" for name in names) + "   words/min  CPU/prompt"


def line(row: Row) -> str:
    """One voice: words wrong in percent, ESTOI behind it."""
    cells = [
        f"{error:7.1f} %" + (f"  {value:4.2f} " if value is not None else "       ")
        for error, value in zip(row.errors, row.estoi, strict=True)
    ]
    pace = f"{row.words_per_minute:10.0f}{row.cpu_s:10.2f} s"
    return f"{row.name:28}" + "".join(f"{cell:>16}" for cell in cells) + pace


def main() -> None:
    """Print the table, voice by voice."""
    parser = argparse.ArgumentParser(description=__doc__, prog="python -m tests.benchmarks.voices")
    parser.add_argument("--every", type=int, default=3, help="each N-th prompt (default 3)")
    texts = prompts(parser.parse_args().every)
    write = dictation()
    out = sys.stdout
    out.write(f"{len(texts)} prompts; words wrong, and ESTOI against the same voice in quiet\n")
    out.write(heading() + "\n")
    for name, speak in voices():
        out.write(line(measured(name, speak, texts, write)) + "\n")
        out.flush()


if __name__ == "__main__":
    main()
