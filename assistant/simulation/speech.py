"""Recorded speech for the simulated person: any sentence of the grammar, as samples.

The recordings are whole sentences with the bounds of every word. A sentence that was
recorded is played as it is; any other is put together from the fewest and best fitting
pieces. What is said, and when, is the operator's business, not this module's.
"""

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

RATE = 16_000
"""Samples per second of everything said here; one channel, 16 bit."""

Samples = npt.NDArray[np.int16]

_OVERLAP = RATE * 8 // 1000
_SEEK = RATE * 8 // 1000
_EDGE = RATE * 5 // 1000

# What a piece costs that does not fit its place, against 1 for each join. A word that was
# last in its sentence is longer and lower than the same word inside one, and the other way.
_JOIN = 1.0
_LAST_MISFIT = 1.5
_FIRST_MISFIT = 0.5
_NEIGHBOUR_MISFIT = 0.3


class NotRecorded(ValueError):
    """No recording holds these words; the text names them and the voice."""


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """One recorded sentence: its file and, in samples, the bounds of its words.

    Two are equal only if they are the same recording; the same words may be there twice.
    """

    file: str
    words: tuple[str, ...]
    starts: tuple[int, ...]
    ends: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Words ``first`` to ``last`` (counted from 0, both included) of a recording."""

    recording: Recording
    first: int
    last: int

    @property
    def words(self) -> str:
        """The words of the piece."""
        return " ".join(self.recording.words[self.first : self.last + 1])


@cache
def _manifest() -> dict[str, Any]:
    text = resources.files("audio_fixtures").joinpath("manifest.json").read_text(encoding="utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def voices() -> tuple[str, ...]:
    """The names of the recorded voices."""
    return tuple(_manifest()["voices"])


class SpeechBank:
    """What one voice can say. Raises ValueError for a voice that was not recorded."""

    def __init__(self, voice: str) -> None:
        if voice not in voices():
            raise ValueError(f"no recordings of '{voice}': use one of {', '.join(voices())}")
        self.voice = voice
        self._signals: dict[str, Samples] = {}
        self._places: dict[str, list[tuple[Recording, int]]] = {}
        for row in _manifest()["utterances"]:
            if row["voice"] == voice:
                self._add(row)

    def _add(self, row: dict[str, Any]) -> None:
        words, starts, ends = zip(*row["words"], strict=True)
        at = tuple(round(start * RATE) for start in starts)
        to = tuple(round(end * RATE) for end in ends[:-1])
        recording = Recording(row["file"], words, at, (*to, round(row["end_s"] * RATE)))
        for index, word in enumerate(words):
            self._places.setdefault(word, []).append((recording, index))

    def say(self, words: str) -> Samples:
        """These words, spoken; from the first sound to the last, without quiet around them.

        Raises NotRecorded when a word is in no recording.
        """
        return self._joined(self.pieces(words))

    def quiet(self, seconds: float, seed: int = 0) -> Samples:
        """The room without speech, as loud as in the recordings, to put between calls."""
        room = self._signal(next(iter(self._places.values()))[0][0].file)[: RATE * 2 // 5]
        spread = float(np.std(room.astype(np.float64)))
        drawn = np.random.default_rng(seed).normal(0.0, spread, round(seconds * RATE))
        return np.rint(drawn).astype(np.int16)

    def pieces(self, words: str) -> tuple[Excerpt, ...]:
        """The recordings' parts that ``say`` joins for these words, the best fitting ones.

        A shortest path over every place where each word was recorded: going on in the same
        recording is free, a join costs, and so does a word out of its place in a sentence.
        """
        tokens = words.split()
        missing = [token for token in tokens if token not in self._places]
        if missing or not tokens:
            named = ", ".join(f"'{token}'" for token in dict.fromkeys(missing)) or "nothing"
            raise NotRecorded(f"'{words}': {self.voice} has no recording of {named}")
        costs: dict[tuple[Recording, int], float] = {}
        before: list[dict[tuple[Recording, int], tuple[Recording, int] | None]] = []
        for index, token in enumerate(tokens):
            follows = tokens[index + 1] if index + 1 < len(tokens) else None
            here: dict[tuple[Recording, int], float] = {}
            came: dict[tuple[Recording, int], tuple[Recording, int] | None] = {}
            best = min(costs, key=lambda place: costs[place] + _leaving(place, token), default=None)
            for place in self._places[token]:
                recording, at = place
                cost, source = 0.0, None
                if best is not None:
                    cost = costs[best] + _leaving(best, token) + _entering(place, tokens[index - 1])
                    cost, source = cost + _JOIN, best
                    stays = (recording, at - 1)
                    if costs.get(stays, np.inf) <= cost:
                        cost, source = costs[stays], stays
                here[place] = cost + _misfit(place, index == 0, follows is None)
                came[place] = source
            costs = here
            before.append(came)
        return _traced(min(costs, key=lambda place: costs[place]), before)

    def _signal(self, file: str) -> Samples:
        if file not in self._signals:
            with resources.files("audio_fixtures").joinpath(file).open("rb") as stream:
                signal, rate = soundfile.read(stream, dtype="int16")
            if rate != RATE or signal.ndim != 1:
                raise ValueError(f"{file} is not {RATE} Hz mono: make the recordings again")
            self._signals[file] = signal
        return self._signals[file]

    def _joined(self, pieces: tuple[Excerpt, ...]) -> Samples:
        half = _OVERLAP // 2
        fade = 0.5 - 0.5 * np.cos(np.pi * (np.arange(_OVERLAP) + 0.5) / _OVERLAP)
        out = np.zeros(0)
        for index, piece in enumerate(pieces):
            signal = self._signal(piece.recording.file)
            start, end = piece.recording.starts[piece.first], piece.recording.ends[piece.last]
            tail = half if index + 1 < len(pieces) else 0
            if index == 0:
                out = signal[start : end + tail].astype(np.float64)
                continue
            start = _in_step(out[-_OVERLAP:], signal, start - half)
            part = signal[start : end + tail].astype(np.float64)
            lap = min(_OVERLAP, len(out), len(part))
            out[-lap:] = out[-lap:] * (1 - fade[:lap]) + part[:lap] * fade[:lap]
            out = np.concatenate([out, part[lap:]])
        edge = np.linspace(0.0, 1.0, _EDGE)
        out[:_EDGE] *= edge
        out[-_EDGE:] *= edge[::-1]
        return np.rint(out).astype(np.int16)


def _misfit(place: tuple[Recording, int], first: bool, last: bool) -> float:
    recording, at = place
    cost = _FIRST_MISFIT if first != (at == 0) else 0.0
    return cost + (_LAST_MISFIT if last != (at == len(recording.words) - 1) else 0.0)


def _leaving(place: tuple[Recording, int], follows: str) -> float:
    """What it costs that another word followed there than follows here."""
    recording, at = place
    there = recording.words[at + 1] if at + 1 < len(recording.words) else ""
    return 0.0 if there == follows else _NEIGHBOUR_MISFIT


def _entering(place: tuple[Recording, int], precedes: str) -> float:
    """What it costs that another word went before there than goes before here."""
    recording, at = place
    there = recording.words[at - 1] if at else ""
    return 0.0 if there == precedes else _NEIGHBOUR_MISFIT


def _traced(
    last: tuple[Recording, int],
    before: list[dict[tuple[Recording, int], tuple[Recording, int] | None]],
) -> tuple[Excerpt, ...]:
    """The path back from its last place, neighbouring words of one recording in one piece."""
    path = [last]
    for came in reversed(before[1:]):
        source = came[path[-1]]
        if source is not None:
            path.append(source)
    path.reverse()
    pieces: list[Excerpt] = []
    for recording, at in path:
        if pieces and pieces[-1].recording is recording and pieces[-1].last + 1 == at:
            pieces[-1] = Excerpt(recording, pieces[-1].first, at)
        else:
            pieces.append(Excerpt(recording, at, at))
    return tuple(pieces)


def _in_step(tail: npt.NDArray[np.float64], signal: Samples, start: int) -> int:
    """Where near ``start`` the signal runs most alike the tail, so that voices stay in step."""
    low = max(0, start - _SEEK)
    window = signal[low : start + _SEEK + len(tail)].astype(np.float64)
    if len(window) < len(tail):
        return start
    likeness = np.correlate(window, tail, mode="valid")
    power = np.convolve(window**2, np.ones(len(tail)), mode="valid")
    return low + int(np.argmax(likeness / np.sqrt(power + 1.0)))
