"""Everything that one utterance says about the sentences of an offer.

``Searcher`` joins the parts of this package: it finds the best sentence, its rivals and
the measures from which the judgement is made. What a sentence means is not known here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib import resources
from itertools import islice

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.features import (
    Floats,
    Samples,
    SpeechPrior,
    cepstra,
    clean_speech,
    library_noise_removal,
    mel_filters,
    normalised,
    power_spectrum,
    streams,
)
from assistant.devices.ears.fallback.acoustics.model_files import AcousticModel
from assistant.devices.ears.fallback.acoustics.person import CHAINS, WARPS, Lesson, Person, lesson
from assistant.devices.ears.fallback.acoustics.phone_loop import PhoneLoop
from assistant.devices.ears.fallback.acoustics.scores import Scorer, gaussians, path_score
from assistant.devices.ears.fallback.acoustics.search import (
    Forward,
    Path,
    backward,
    best_endings,
    best_path,
    forward,
    path_through,
    positions,
    through_heads,
)
from assistant.devices.ears.fallback.acoustics.state_graph import StateGraph, state_graph
from assistant.devices.ears.fallback.acoustics.word_graph import word_graph
from assistant.devices.ears.fallback.acoustics.word_loop import WordLoop
from grammar.sentences import Alt

Floats32 = npt.NDArray[np.float32]
Stream3 = tuple[Floats, Floats, Floats]

CLEANED_SWING, PLAIN_SWING = 0.25, 0.5
"""How far the cepstra of the two feature chains are stretched back."""

_PRIOR = ("means", "variances", "weights", "swing")

MOST_RIVALS, MOST_TRACES = 6, 12
FURTHEST = 150.0
"""Rivals further behind than this, in nats, are none."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A sentence and its score with weights, in nats."""

    words: str
    score: float


@dataclass(frozen=True, slots=True)
class Measures:
    """What tells speech to us from other sounds, and safe from unsafe, besides the rivals.

    ``fit``: mean over the frames of words of the sentence's score less the phone loop's,
    in nats per frame; ``worst``: the same for the worst word. ``outside``: share of loud
    frames that no word covers. ``slowest``, ``fastest``: log frames per phone of the words.
    ``over_talk``: the sentence's score less that of the best common words, in nats;
    ``sound_over_talk``: the same without the sentence's weights; ``sound_over_doubles``: that
    less the best words that sound nearly like commands. ``longest``, ``shortest``,
    ``length``, ``unevenness``: largest, smallest, mean and standard deviation of the log
    frames of its phones. ``words``, ``phones``, ``frames``: counts, frames those inside
    words. ``contrast_db``: 95th less 10th percentile of frame energy. ``warp``: the chosen
    one.
    """

    fit: float
    worst: float
    outside: float
    slowest: float
    fastest: float
    over_talk: float
    sound_over_talk: float
    sound_over_doubles: float
    longest: float
    shortest: float
    length: float
    unevenness: float
    words: int
    phones: int
    frames: int
    contrast_db: float
    warp: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """The best sentence, its rivals (best first, other words each) and the measures.

    ``lesson``: what it tells of its person, if it is what it is taken for.
    """

    best: Candidate
    rivals: tuple[Candidate, ...]
    measures: Measures
    lesson: Lesson


@dataclass(frozen=True, slots=True)
class Prepared:
    """An offer's sentences, ready to be searched."""

    graph: StateGraph
    scorer: Scorer


def shipped_prior() -> tuple[SpeechPrior, npt.NDArray[np.float32]]:
    """The fitted model of clean speech and the phone pairs that come with the program."""
    with resources.files(__package__).joinpath("speech_prior.npz").open("rb") as stream:
        stored = np.load(stream)
        prior = SpeechPrior(*(stored[name].astype(np.float64) for name in _PRIOR))
        return prior, stored["pairs"].astype(np.float32)


class Searcher:
    """Searches utterances. One thread only."""

    def __init__(
        self,
        model: AcousticModel,
        prior: SpeechPrior,
        pairs: npt.NDArray[np.float32],
        talk: Sequence[tuple[Sequence[str], float]],
        doubles: Sequence[tuple[Sequence[str], float]],
    ) -> None:
        """``talk``: the words of talk, as ``WordLoop`` takes them; ``doubles``: words that
        sound nearly like commands, the same way.
        """
        self._model, self._prior = model, prior
        self._loop = PhoneLoop(model, pairs)
        self._talk, self._doubles = WordLoop(model, talk), WordLoop(model, doubles)
        loops = self._loop, self._talk, self._doubles
        states = np.unique(np.concatenate([loop.states.ravel() for loop in loops]))
        self._rivalry = Scorer(model, states)
        self._loop_columns = np.searchsorted(states, self._loop.states)
        self._talk_columns = np.searchsorted(states, self._talk.states)
        self._double_columns = np.searchsorted(states, self._doubles.states)

    def prepare(self, root: Alt, sounds: dict[str, list[list[str]]]) -> Prepared:
        """The graph of these sentences; ``sounds``: every pronunciation of every word."""
        graph = state_graph(self._model, word_graph(root), sounds)
        return Prepared(graph, Scorer(self._model, graph.states))

    def hear(self, ready: Prepared, samples: Samples, person: Person) -> Evidence | None:
        """The evidence of one utterance, or None when no sentence fits into it."""
        power = power_spectrum(samples)
        graph = ready.graph
        offsets = [person.offset(chain) for chain in range(CHAINS)]
        first = self._cleaned(power, person.warp, offsets[0])
        books = gaussians(self._model, first)
        found = forward(graph, ready.scorer(books))
        path = best_path(graph, found)
        if path is None:
            return None
        tracts = {
            warp: first if warp == person.warp else self._cleaned(power, warp, offsets[0])
            for warp in WARPS
        }
        states = graph.states[positions(graph, found, path)]
        warps = np.array([path_score(self._model, tracts[warp], states) for warp in WARPS])
        warp = WARPS[int((warps + person.leaning).argmax())]
        plain_mel = library_noise_removal(power @ mel_filters(warp))
        plain = streams(normalised(cepstra(plain_mel), self._prior.swing, PLAIN_SWING) + offsets[1])
        # What this utterance itself tells of its person is believed as the earlier ones are.
        inside = _inside(graph, path, len(states))
        own = lesson(self._model, warps, (tracts[warp][0], plain[0]), offsets, states, inside)
        before, offsets = offsets, [person.after(own).offset(chain) for chain in range(CHAINS)]
        cleaned, plain = (
            _moved(chain, after - was)
            for chain, after, was in zip((tracts[warp], plain), offsets, before, strict=True)
        )
        del books, first, tracts
        books = gaussians(self._model, cleaned)
        one = ready.scorer(books), self._rivalry(books)
        # A second of sound takes 6 MB here, so one chain goes before the other comes.
        del books
        books = gaussians(self._model, plain)
        scores, others = _mean(one[0], ready.scorer(books)), _mean(one[1], self._rivalry(books))
        del books
        found = forward(graph, scores)
        path = best_path(graph, found)
        if path is None:
            return None
        loop = self._loop.best(others[:, self._loop_columns])
        talk = self._talk.best(others, self._talk_columns)
        doubles = self._doubles.best(others, self._double_columns)
        at = positions(graph, found, path)
        inside = _inside(graph, path, len(at))
        told = lesson(self._model, warps, (cleaned[0], plain[0]), offsets, graph.states[at], inside)
        return Evidence(
            Candidate(sentence(graph, path), path.score),
            tuple(_rivals(graph, scores, found, path)),
            _measures(graph, scores, path, at, inside, loop, talk, doubles, power, warp),
            told,
        )

    def _cleaned(self, power: Floats, warp: float, offset: Floats) -> Stream3:
        mel = clean_speech(power @ mel_filters(warp), self._prior)
        return streams(normalised(cepstra(mel), self._prior.swing, CLEANED_SWING) + offset)


def _moved(chain: Stream3, by: Floats) -> Stream3:
    """Features with an offset added; their differences stay."""
    return chain[0] + by, *chain[1:]


def _mean(one: Floats32, other: Floats32) -> Floats32:
    """The scores by the features of both chains, half and half."""
    found: Floats32 = 0.5 * (one + other)
    return found


def sentence(graph: StateGraph, path: Path) -> str:
    """The words of a path."""
    arcs = (graph.arc[step.unit] for step in path.steps if graph.head[step.unit])
    return " ".join(graph.arcs[arc].word for arc in arcs if arc >= 0)


def _rivals(
    graph: StateGraph, scores: npt.NDArray[np.float32], found: Forward, best: Path
) -> Iterable[Candidate]:
    """The best sentence through each word arc, and for each end, that is another one."""
    rivals: dict[str, float] = {sentence(graph, best): best.score}

    def note(path: Path) -> None:
        words = sentence(graph, path)
        rivals[words] = max(path.score, rivals.get(words, -np.inf))

    for path in islice(best_endings(graph, found), 1, 4):
        note(path)
    after = backward(graph, scores)
    totals = through_heads(graph, scores, found, after)
    heads = np.flatnonzero(graph.head)
    frame = np.argmax(totals, axis=0)
    top = totals[frame, np.arange(len(heads))]
    used = {int(graph.arc[step.unit]) for step in best.steps}
    traces = 0
    for at in np.argsort(-top):
        arc = int(graph.arc[heads[at]])
        if top[at] < best.score - FURTHEST or traces >= MOST_TRACES:
            break
        if arc < 0 or arc in used:
            continue
        path = path_through(graph, scores, found, after, int(heads[at]), int(frame[at]))
        used |= {int(graph.arc[step.unit]) for step in path.steps}
        note(path)
        traces += 1
    ordered = sorted(rivals.items(), key=lambda item: -item[1])[1 : MOST_RIVALS + 1]
    return (Candidate(words, score) for words, score in ordered)


def _measures(
    graph: StateGraph,
    scores: npt.NDArray[np.float32],
    path: Path,
    at: npt.NDArray[np.int64],
    inside: npt.NDArray[np.bool_],
    loop: Floats32,
    talk: float,
    doubles: float,
    power: Floats,
    warp: float,
) -> Measures:
    frames = np.arange(len(scores))
    gained = np.concatenate([[0.0], np.cumsum(scores[frames, at])])
    sounds = float(gained[-1])
    gained -= loop
    fits: list[float] = []
    rates: list[float] = []
    spans = _spans(graph, path)
    for start, end, phones in spans:
        fits.append(float(gained[end] - gained[start]) / (end - start))
        rates.append(float(np.log((end - start) / phones)))
    energy = 10 * np.log10(power.sum(axis=1) + 1)
    quiet, loud = np.percentile(energy, (10, 95))
    heard = energy > (quiet + loud) / 2
    lengths = np.array([end - start for start, end, _ in spans])
    sizes = np.log([s.end - s.start for s in path.steps if graph.arc[s.unit] >= 0])
    return Measures(
        fit=float(np.dot(fits, lengths) / lengths.sum()),
        worst=min(fits),
        outside=float(np.mean(~inside[heard])) if heard.any() else 0.0,
        slowest=max(rates),
        fastest=min(rates),
        over_talk=path.score - talk,
        sound_over_talk=sounds - talk,
        sound_over_doubles=sounds - doubles,
        longest=float(sizes.max()),
        shortest=float(sizes.min()),
        length=float(sizes.mean()),
        unevenness=float(sizes.std()),
        words=len(spans),
        phones=len(sizes),
        frames=int(lengths.sum()),
        contrast_db=float(loud - quiet),
        warp=warp,
    )


def _inside(graph: StateGraph, path: Path, frames: int) -> npt.NDArray[np.bool_]:
    """Which frames belong to words."""
    inside = np.zeros(frames, bool)
    for start, end, _ in _spans(graph, path):
        inside[start:end] = True
    return inside


def _spans(graph: StateGraph, path: Path) -> list[tuple[int, int, int]]:
    """First frame, end and number of phones of every word."""
    spans: list[tuple[int, int, int]] = []
    for step in path.steps:
        if graph.arc[step.unit] < 0:
            continue
        if graph.head[step.unit]:
            spans.append((step.start, step.end, 1))
        else:
            start, _, phones = spans[-1]
            spans[-1] = (start, step.end, phones + 1)
    return spans
