"""A graph of words in states of the acoustic model, with exact contexts across words.

A *unit* is a phone in its context: three states in a row. A *node* is a place between
units; it stands for a state of the word graph, the phone before it and the phone after it.
Silence and noise may stand before, between and after words.
"""

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.model_files import (
    BEGIN,
    END,
    INTERNAL,
    SINGLE,
    AcousticModel,
)
from assistant.devices.ears.fallback.acoustics.word_graph import Arc, WordGraph

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]

FILLERS = {"SIL": -5.0, "+NSN+": -15.0}
"""What may stand between words, with its weight."""

NEVER = np.float32(-1e30)

_Node = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Links:
    """Many-to-many links, grouped by target: ``source[first[i]:first[i+1]]`` lead to
    ``target[i]``, each with its weight."""

    source: Ints
    weight: Floats
    target: Ints
    first: Ints

    def of(self, target: int) -> slice:
        """Where the links to this target stand."""
        at = int(self.target.searchsorted(target))
        if at == len(self.target) or self.target[at] != target:
            return slice(0, 0)
        end = self.first[at + 1] if at + 1 < len(self.first) else len(self.source)
        return slice(int(self.first[at]), int(end))


@dataclass(frozen=True, slots=True)
class StateGraph:
    """What a search runs on.

    ``states``: the tied states that occur. ``emits``: (3, units) positions in ``states``.
    ``moves``: (units, 3, 4) log probabilities. ``arc``: the word arc of each unit, -1 for
    fillers; ``head``: the unit begins its word. ``into``: nodes to units; ``out_of``: units
    to nodes; ``ahead``: units by the node before them; ``exits``: nodes by the unit before
    them. ``starts``: nodes where a sentence begins. ``final``: weight of ending at a node.
    """

    arcs: tuple[Arc, ...]
    states: Ints
    emits: Ints
    moves: Floats
    arc: Ints
    head: npt.NDArray[np.bool_]
    into: Links
    out_of: Links
    ahead: Links
    exits: Links
    starts: Ints
    final: Floats


@dataclass(slots=True)
class _Builder:
    model: AcousticModel
    units: list[tuple[int, int, bool]] = field(default_factory=list)
    nodes: dict[_Node, int] = field(default_factory=dict)
    into: list[tuple[int, int, float]] = field(default_factory=list)
    out_of: list[tuple[int, int, float]] = field(default_factory=list)

    def node(self, *name: object) -> int:
        return self.nodes.setdefault(name, len(self.nodes))

    def unit(self, phone: int, arc: int, head: bool) -> int:
        self.units.append((phone, arc, head))
        return len(self.units) - 1

    def word(
        self, number: int, arc: Arc, phones: list[int], before: set[int], after: set[int]
    ) -> None:
        """One pronunciation of one arc."""
        if len(phones) == 1:
            self._single(number, arc, phones[0], before, after)
            return
        model = self.model
        inside = len(self.nodes), number
        next_node = self.node("in", *inside, 0)
        alike: dict[int, int] = {}
        for left in sorted(before):
            phone = model.triphone(phones[0], left, phones[1], BEGIN)
            sequence = int(model.sequence[phone])
            if sequence not in alike:
                alike[sequence] = self.unit(phone, number, True)
                self.out_of.append((alike[sequence], next_node, 0.0))
            self.into.append((self.node(arc.start, left, phones[0]), alike[sequence], arc.weight))
        for at in range(1, len(phones) - 1):
            phone = model.triphone(phones[at], phones[at - 1], phones[at + 1], INTERNAL)
            unit = self.unit(phone, number, False)
            self.into.append((next_node, unit, 0.0))
            next_node = self.node("in", *inside, at)
            self.out_of.append((unit, next_node, 0.0))
        alike = {}
        for right in sorted(after):
            phone = model.triphone(phones[-1], phones[-2], right, END)
            sequence = int(model.sequence[phone])
            if sequence not in alike:
                alike[sequence] = self.unit(phone, number, False)
                self.into.append((next_node, alike[sequence], 0.0))
            self.out_of.append((alike[sequence], self.node(arc.end, phones[-1], right), 0.0))

    def _single(self, number: int, arc: Arc, phone: int, before: set[int], after: set[int]) -> None:
        alike: dict[tuple[int, int], int] = {}
        for left in sorted(before):
            for right in sorted(after):
                full = self.model.triphone(phone, left, right, SINGLE)
                key = int(self.model.sequence[full]), right
                if key not in alike:
                    alike[key] = self.unit(full, number, True)
                    self.out_of.append((alike[key], self.node(arc.end, phone, right), 0.0))
                self.into.append((self.node(arc.start, left, phone), alike[key], arc.weight))

    def filler(self, state: int, name: str, before: set[int], after: set[int]) -> None:
        """A filler that may stand at this state of the word graph."""
        silence = self.model.silence
        unit = self.unit(self.model.number[name], -1, True)
        for left in sorted(before):
            self.into.append((self.node(state, left, silence), unit, FILLERS[name]))
        for right in sorted(after):
            self.out_of.append((unit, self.node(state, silence, right), 0.0))


def state_graph(
    model: AcousticModel, words: WordGraph, sounds: dict[str, list[list[str]]]
) -> StateGraph:
    """The graph for these words; ``sounds``: every pronunciation of each word in phones."""
    silence = model.silence
    spelled = {
        word: [[model.number[phone] for phone in phones] for phones in ways]
        for word, ways in sounds.items()
    }
    before: dict[int, set[int]] = defaultdict(lambda: {silence})
    after: dict[int, set[int]] = defaultdict(lambda: {silence})
    for arc in words.arcs:
        for phones in spelled[arc.word]:
            after[arc.start].add(phones[0])
            before[arc.end].add(phones[-1])
    builder = _Builder(model)
    for number, arc in enumerate(words.arcs):
        for phones in spelled[arc.word]:
            builder.word(number, arc, phones, before[arc.start], after[arc.end])
    places = sorted({arc.start for arc in words.arcs} | {arc.end for arc in words.arcs})
    for place in places:
        for name in FILLERS:
            builder.filler(place, name, before[place], after[place])
    final = np.full(len(builder.nodes), NEVER, np.float32)
    for place, weight in words.finals.items():
        for left in before[place]:
            final[builder.node(place, left, silence)] = weight
    starts = [
        builder.nodes[0, silence, right]
        for right in sorted(after[0])
        if (0, silence, right) in builder.nodes
    ]
    return _packed(model, words, builder, starts, final)


def _packed(
    model: AcousticModel, words: WordGraph, builder: _Builder, starts: list[int], final: Floats
) -> StateGraph:
    phones = np.array([unit[0] for unit in builder.units])
    tied = model.states[model.sequence[phones]]
    states, position = np.unique(tied, return_inverse=True)
    backward_into = [(unit, node, weight) for node, unit, weight in builder.into]
    backward_out = [(node, unit, weight) for unit, node, weight in builder.out_of]
    return StateGraph(
        arcs=words.arcs,
        states=states,
        emits=np.ascontiguousarray(position.reshape(tied.shape).T),
        moves=model.moves[model.transition[phones]],
        arc=np.array([unit[1] for unit in builder.units]),
        head=np.array([unit[2] for unit in builder.units]),
        into=_links(builder.into),
        out_of=_links(builder.out_of),
        ahead=_links(backward_into),
        exits=_links(backward_out),
        starts=np.array(starts),
        final=final,
    )


def _links(rows: list[tuple[int, int, float]]) -> Links:
    rows = sorted(rows, key=lambda row: row[1])
    targets = np.array([row[1] for row in rows])
    target, first = np.unique(targets, return_index=True)
    return Links(
        source=np.array([row[0] for row in rows]),
        weight=np.array([row[2] for row in rows], np.float32),
        target=target,
        first=first,
    )
