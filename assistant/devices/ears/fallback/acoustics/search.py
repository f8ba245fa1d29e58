"""Best paths through a state graph: forwards, backwards, and the words on them.

Nothing is pruned, so the score of every sentence's best path can be had: the score through
a unit is the forward score up to it plus the backward score after it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.state_graph import NEVER, StateGraph

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Segment:
    """A unit on a path and the frames that it takes, end excluded."""

    unit: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Path:
    """A whole sentence: its steps and its score with weights, in nats."""

    steps: tuple[Segment, ...]
    score: float


@dataclass(frozen=True, slots=True)
class Forward:
    """``at``: (frames, 3, units) best score that ends in a state with this frame.
    ``node``: (frames + 1, nodes) best score that reaches a node after so many frames."""

    at: Floats
    node: Floats


@dataclass(frozen=True, slots=True)
class Backward:
    """``rest``: (frames, 3, units) best score of what follows this frame in this state.
    ``node``: (frames + 1, nodes) best score of what follows a node."""

    rest: Floats
    node: Floats


def forward(graph: StateGraph, scores: Floats) -> Forward:
    """Scores: frames by ``graph.states``."""
    frames, units = len(scores), len(graph.arc)
    at = np.empty((frames, 3, units), np.float32)
    node = np.full((frames + 1, len(graph.final)), NEVER, np.float32)
    node[0, graph.starts] = 0.0
    stay, step, leave = _moves(graph)
    into, out_of = graph.into, graph.out_of
    now = np.full((3, units), NEVER, np.float32)
    for frame in range(frames):
        entered = np.maximum.reduceat(node[frame][into.source] + into.weight, into.first)
        held = now + stay
        np.maximum(held[1:], now[:2] + step, out=held[1:])
        np.maximum(held[0], entered, out=held[0])
        now = held
        now += scores[frame][graph.emits]
        at[frame] = now
        node[frame + 1, out_of.target] = np.maximum.reduceat(
            (now[2] + leave)[out_of.source], out_of.first
        )
    return Forward(at, node)


def backward(graph: StateGraph, scores: Floats) -> Backward:
    """The mirror image of ``forward``."""
    frames, units = len(scores), len(graph.arc)
    rest = np.empty((frames, 3, units), np.float32)
    node = np.full((frames + 1, len(graph.final)), NEVER, np.float32)
    node[frames] = graph.final
    stay, step, leave = _moves(graph)
    ahead, exits = graph.ahead, graph.exits
    then = np.full((3, units), NEVER, np.float32)
    for frame in range(frames - 1, -1, -1):
        left = np.maximum.reduceat(node[frame + 1][exits.source], exits.first) + leave
        held = then + stay
        np.maximum(held[:2], then[1:] + step, out=held[:2])
        np.maximum(held[2], left, out=held[2])
        rest[frame] = held
        then = held + scores[frame][graph.emits]
        node[frame, ahead.target] = np.maximum.reduceat(
            then[0][ahead.source] + ahead.weight, ahead.first
        )
    return Backward(rest, node)


def _moves(graph: StateGraph) -> tuple[Floats, Floats, Floats]:
    stay = np.ascontiguousarray(graph.moves[:, (0, 1, 2), (0, 1, 2)].T)
    step = np.ascontiguousarray(graph.moves[:, (0, 1), (1, 2)].T)
    return stay, step, np.ascontiguousarray(graph.moves[:, 2, 3])


def best_path(graph: StateGraph, found: Forward) -> Path | None:
    """The best sentence, or None when no sentence fits into so few frames."""
    last = found.node[-1] + graph.final
    node = int(np.argmax(last))
    if last[node] < NEVER / 2:
        return None
    return Path(tuple(_back(graph, found, node, len(found.at))), float(last[node]))


def best_endings(graph: StateGraph, found: Forward) -> Iterator[Path]:
    """The best sentence for each node where one may end, best first; each found when asked for."""
    last = found.node[-1] + graph.final
    nodes = np.flatnonzero(last > NEVER / 2)
    order = nodes[np.argsort(-last[nodes])]
    frames = len(found.at)
    for node in order:
        yield Path(tuple(_back(graph, found, int(node), frames)), float(last[node]))


def path_through(
    graph: StateGraph, scores: Floats, found: Forward, after: Backward, unit: int, frame: int
) -> Path:
    """The best sentence that begins this unit with this frame."""
    rows = graph.into.of(unit)
    nodes = graph.into.source[rows]
    entry = found.node[frame][nodes] + graph.into.weight[rows]
    best = int(np.argmax(entry))
    total = entry[best] + scores[frame][graph.emits[0, unit]] + after.rest[frame, 0, unit]
    steps = _back(graph, found, int(nodes[best]), frame)
    steps += _ahead(graph, scores, after, unit, frame)
    return Path(tuple(steps), float(total))


def through_heads(graph: StateGraph, scores: Floats, found: Forward, after: Backward) -> Floats:
    """(frames, heads): score of the best sentence that begins a word's head there.

    The heads are those units, in order, for which ``graph.head`` is set.
    """
    heads = np.flatnonzero(graph.head)
    into = graph.into
    entered = np.maximum.reduceat(
        found.node[:-1][:, into.source] + into.weight, into.first, axis=1
    )[:, heads]
    emitted = scores[:, graph.emits[0, heads]]
    total: Floats = entered + emitted + after.rest[:, 0, heads]
    return total


def _back(graph: StateGraph, found: Forward, node: int, frame: int) -> list[Segment]:
    """Steps that lead to this node after so many frames."""
    steps: list[Segment] = []
    while frame > 0:
        units = graph.out_of.source[graph.out_of.of(node)]
        unit = int(units[(found.at[frame - 1, 2, units] + graph.moves[units, 2, 3]).argmax()])
        end, state = frame, 2
        frame -= 1
        moves = graph.moves[unit]
        rows = graph.into.of(unit)
        while True:
            before = found.at[frame - 1, :, unit] if frame else np.full(3, NEVER)
            stay = before[state] + moves[state, state]
            if state == 0:
                entry = found.node[frame][graph.into.source[rows]] + graph.into.weight[rows]
                best = int(entry.argmax())
                if entry[best] >= stay:
                    node = int(graph.into.source[rows][best])
                    break
            elif before[state - 1] + moves[state - 1, state] > stay:
                state -= 1
            frame -= 1
        steps.append(Segment(unit, frame, end))
    return steps[::-1]


def _ahead(
    graph: StateGraph, scores: Floats, after: Backward, unit: int, frame: int
) -> list[Segment]:
    """Steps from the first state of this unit at this frame to the end."""
    frames = len(scores)
    steps: list[Segment] = []

    def value(at: int, state: int, which: Ints | int) -> Floats | float:
        if at >= frames:
            return float(NEVER)
        found: Floats | float = after.rest[at, state, which] + scores[at][graph.emits[state, which]]
        return found

    while True:
        start, state, moves = frame, 0, graph.moves[unit]
        nodes = graph.exits.source[graph.exits.of(unit)]
        leave = np.full(len(nodes), NEVER)
        while True:
            stay = value(frame + 1, state, unit) + moves[state, state]
            if state < 2:
                if value(frame + 1, state + 1, unit) + moves[state, state + 1] > stay:
                    state += 1
            else:
                leave = after.node[frame + 1][nodes]
                if leave.max() + moves[2, 3] >= stay:
                    break
            frame += 1
        frame += 1
        steps.append(Segment(unit, start, frame))
        if frame >= frames:
            return steps
        node = int(nodes[np.argmax(leave)])
        rows = graph.ahead.of(node)
        units = graph.ahead.source[rows]
        unit = int(units[np.argmax(value(frame, 0, units) + graph.ahead.weight[rows])])


def positions(graph: StateGraph, found: Forward, path: Path) -> Ints:
    """For every frame of a path that ``best_path`` gave, its place in ``graph.states``."""
    places = np.empty(len(found.at), np.int64)
    for step in path.steps:
        moves, state = graph.moves[step.unit], 2
        for frame in range(step.end - 1, step.start - 1, -1):
            places[frame] = graph.emits[state, step.unit]
            if state and frame > step.start:
                before = found.at[frame - 1, :, step.unit] + moves[:, state]
                state -= int(before[state - 1] > before[state])
    return places
