"""An offer's sentences as a small graph of words, each arc with its weight.

Weights, in nats, say how unusual a form of words is; they never favour one value. They
keep a faint sound from being taken for a word: an inserted "and a half" costs more than the
noise that imitates it gains.
"""

from collections import defaultdict
from dataclasses import dataclass, field

from grammar.numerals import DIGITS, POINTS
from grammar.sentences import Alt, Node, Opt, Seq

WORD = -12.0
"""Every word."""

PRESENT = {"correction": -15.0, "fraction": -12.0, "unit": -15.0, "size_fraction": -12.0}
"""These optional parts when they are said."""

ABSENT = {"sign": -12.0}
"""These optional parts when they are left out."""

DIGITWISE = -12.0
"""A number of several digits called one by one, beside its words."""

POINTED = -3.0
"""Decimals after a point, beside the usual fractions."""


@dataclass(frozen=True, slots=True)
class Arc:
    """A word from one state of the graph to another."""

    start: int
    end: int
    word: str
    weight: float


@dataclass(frozen=True, slots=True)
class WordGraph:
    """All sentences: paths from state 0 to one of ``finals`` (state to weight)."""

    arcs: tuple[Arc, ...]
    finals: dict[int, float]


@dataclass(slots=True)
class _Builder:
    arcs: list[Arc] = field(default_factory=list)
    empty: dict[int, list[tuple[int, float]]] = field(default_factory=lambda: defaultdict(list))
    count: int = 0

    def state(self) -> int:
        self.count += 1
        return self.count - 1

    def add(self, node: Node, start: int, end: int, weight: float) -> None:
        match node:
            case str():
                self.phrases([node], start, end, weight)
            case Seq(parts=parts):
                for index, part in enumerate(parts):
                    after = end if index == len(parts) - 1 else self.state()
                    self.add(part, start, after, weight)
                    start, weight = after, 0.0
            case Opt(part=part):
                name = part if isinstance(part, str) else getattr(part, "name", "")
                self.add(part, start, end, weight + PRESENT.get(name, 0.0))
                self.empty[start].append((end, weight + ABSENT.get(name, 0.0)))
            case Alt(choices=choices):
                self.phrases([c for c in choices if isinstance(c, str)], start, end, weight)
                for choice in choices:
                    if not isinstance(choice, str):
                        self.add(choice, start, end, weight)

    def phrases(self, phrases: list[str], start: int, end: int, weight: float) -> None:
        """Alternative phrases, their common beginnings shared."""
        groups: dict[float, list[str]] = defaultdict(list)
        for phrase in phrases:
            groups[phrase_weight(phrase)].append(phrase)
        for extra, group in groups.items():
            first = self.state()
            self.empty[start].append((first, weight + extra))
            after: dict[tuple[str, ...], int] = {(): first}
            for phrase in group:
                words = tuple(phrase.split())
                for index in range(1, len(words)):
                    if words[:index] not in after:
                        after[words[:index]] = self.state()
                        before = after[words[: index - 1]]
                        self.arcs.append(Arc(before, after[words[:index]], words[index - 1], WORD))
                self.arcs.append(Arc(after[words[:-1]], end, words[-1], WORD))


def phrase_weight(phrase: str) -> float:
    """What this phrase costs beside others in its place, words not counted."""
    words = phrase.split()
    if len(words) > 1 and all(word in DIGITS for word in words):
        return DIGITWISE
    return POINTED if words[0] in POINTS else 0.0


def word_graph(root: Alt) -> WordGraph:
    """The graph of a tree of sentences, without empty arcs, equal endings shared."""
    builder = _Builder()
    start, end = builder.state(), builder.state()
    builder.add(root, start, end, 0.0)
    leaving: dict[int, list[Arc]] = defaultdict(list)
    for arc in builder.arcs:
        leaving[arc.start].append(arc)
    arcs: list[Arc] = []
    finals: dict[int, float] = {}
    todo, seen = [start], {start}
    while todo:
        state = todo.pop()
        reached = _without_words(builder.empty, state)
        if end in reached:
            finals[state] = reached[end]
        for there, weight in reached.items():
            for arc in leaving[there]:
                arcs.append(Arc(state, arc.end, arc.word, arc.weight + weight))
                if arc.end not in seen:
                    seen.add(arc.end)
                    todo.append(arc.end)
    return _shared_endings(arcs, finals, start)


def _without_words(empty: dict[int, list[tuple[int, float]]], state: int) -> dict[int, float]:
    """Where one gets from a state without a word, with the best weight."""
    best = {state: 0.0}
    todo = [state]
    while todo:
        here = todo.pop()
        for there, weight in empty.get(here, ()):
            if best[here] + weight > best.get(there, -1e9):
                best[there] = best[here] + weight
                todo.append(there)
    return best


def _shared_endings(arcs: list[Arc], finals: dict[int, float], start: int) -> WordGraph:
    """States from which the same can follow become one, until none are left."""
    while True:
        follows: dict[int, list[tuple[int, str, float]]] = defaultdict(list)
        states = {start}
        for arc in arcs:
            follows[arc.start].append((arc.end, arc.word, arc.weight))
            states |= {arc.start, arc.end}
        alike: dict[object, list[int]] = defaultdict(list)
        for state in states:
            alike[tuple(sorted(follows[state])), finals.get(state)].append(state)
        named = {
            state: start if start in group else min(group)
            for group in alike.values()
            for state in group
        }
        if all(state == name for state, name in named.items()):
            order = {state: index for index, state in enumerate([start, *(states - {start})])}
            return WordGraph(
                tuple(Arc(order[a.start], order[a.end], a.word, a.weight) for a in arcs),
                {order[state]: weight for state, weight in finals.items()},
            )
        unique = {(named[a.start], named[a.end], a.word, a.weight) for a in arcs}
        arcs = [Arc(*row) for row in sorted(unique)]
        finals = {named[state]: weight for state, weight in finals.items()}
