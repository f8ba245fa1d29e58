"""The likeliest sentences of a network, and beside them what the model would write freely.

A beam search, one token at a time, all hypotheses in one batch; the first row of the batch is
the free text (greedy: the likeliest token each time).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.neural.network import Network, States
from assistant.devices.ears.neural.tokens import BEGIN, END
from assistant.devices.ears.neural.transducer import MOST, Encoded, Transducer

WIDTH = MOST - 1
"""Hypotheses that are kept: 8. With 4, margins come out larger than they are."""

BEHIND = 10.0
"""Nats behind the best complete sentence, or 2 more behind the best open one, that are let go."""

LONGEST = 24
"""Tokens of a sentence of the network at most."""

TOKENS_PER_S, TOKENS_MORE = 6.5, 4
"""Free text has no more tokens than this; a model that repeats itself is stopped."""

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Text:
    """Tokens without the last one, and the log probability of all, the last one included."""

    tokens: tuple[int, ...]
    score: float


@dataclass(frozen=True, slots=True)
class Found:
    """Complete sentences of the network, best first, and the free text."""

    sentences: tuple[Text, ...]
    free: Text


@dataclass(slots=True)
class _Open:
    """A hypothesis under way; ``row``: of the batch that was scored last."""

    tokens: tuple[int, ...]
    score: float
    states: States
    row: int


@dataclass(slots=True)
class _Free:
    tokens: tuple[int, ...] = ()
    score: float = 0.0
    row: int = 0
    open: bool = True


def search(model: Transducer, encoded: Encoded, network: Network, seconds: float) -> Found:
    """Search a network for a sound of so many seconds."""
    logs, memory = model.first(encoded, BEGIN)
    free, hypotheses = _Free(), [_Open((), 0.0, network.start, 0)]
    most = max(8, int(seconds * TOKENS_PER_S) + TOKENS_MORE)
    found: list[Text] = []
    while True:
        if free.open:
            _write_on(free, logs[free.row], most)
        hypotheses = _grown(hypotheses, logs, network, found)
        if not hypotheses and not free.open:
            break
        rows = [free.row] * free.open + [one.row for one in hypotheses]
        last = [*([free.tokens[-1]] if free.open else ()), *(one.tokens[-1] for one in hypotheses)]
        logs, memory = model.next(last, memory.picked(rows))
        free.row = 0
        for row, one in enumerate(hypotheses, start=int(free.open)):
            one.row = row
    found.sort(key=lambda text: -text.score)
    return Found(tuple(found), Text(free.tokens, free.score))


def sentences_only(model: Transducer, encoded: Encoded, network: Network) -> tuple[Text, ...]:
    """The same without free text, for a second look at a sound."""
    logs, memory = model.first(encoded, BEGIN)
    hypotheses, found = [_Open((), 0.0, network.start, 0)], list[Text]()
    while hypotheses := _grown(hypotheses, logs, network, found):
        rows = [one.row for one in hypotheses]
        last = [one.tokens[-1] for one in hypotheses]
        logs, memory = model.next(last, memory.picked(rows))
        for row, one in enumerate(hypotheses):
            one.row = row
    return tuple(sorted(found, key=lambda text: -text.score))


def _write_on(free: _Free, logs: Floats, most: int) -> None:
    token = int(logs.argmax())
    free.score += float(logs[token])
    if token == END or len(free.tokens) >= most:
        free.open = False
    else:
        free.tokens = (*free.tokens, token)


def _grown(
    hypotheses: list[_Open], logs: Floats, network: Network, found: list[Text]
) -> list[_Open]:
    """The best continuations; those that end here are put into ``found``."""
    offers: list[tuple[float, int, int]] = []
    for which, one in enumerate(hypotheses):
        step = network.step(one.states)
        scores = one.score + logs[one.row, step.tokens].astype(np.float64)
        places = np.argsort(-scores)[: WIDTH + 4]
        offers += [(float(scores[place]), which, int(place)) for place in places]
    offers.sort(reverse=True)
    best = max((text.score for text in found), default=-np.inf)
    kept: list[_Open] = []
    for score, which, place in offers:
        one = hypotheses[which]
        step = network.step(one.states)
        token = int(step.tokens[place])
        if score < best - BEHIND or (kept and score < kept[0].score - BEHIND - 2):
            break
        if token == END:
            found.append(Text(one.tokens, score))
            best = max(best, score)
        elif len(kept) < WIDTH and len(one.tokens) < LONGEST:
            kept.append(_Open((*one.tokens, token), score, step.after[place], one.row))
    return [one for one in kept if one.score >= best - BEHIND]
