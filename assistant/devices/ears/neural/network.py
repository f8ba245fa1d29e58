"""An offer as a network of tokens: which may follow, after those that were said.

Built once for an offer as a non-deterministic automaton from the tree of what may be written;
sets of its states are made as they are needed and kept (the subset construction of Rabin and
Scott, 1959, done lazily).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.neural.tokens import END, Tokens
from grammar.sentences import Alt, Node, Opt, Seq
from grammar.vocabulary import WRITTEN
from grammar.written import GLUED, is_figure

Numbers = npt.NDArray[np.int64]
States = frozenset[int]


@dataclass(frozen=True, slots=True)
class Continuations:
    """What may follow: the tokens, and the states after each."""

    tokens: Numbers
    after: tuple[States, ...]


class Network:
    """The sentences of a tree as tokens, however they may be written.

    A word may begin with a capital, follow a comma or a hyphen; a sentence may end with a
    mark. Where a word sounds like another, that one may stand for it.
    """

    def __init__(self, tree: Node, tokens: Tokens) -> None:
        self._tokens = tokens
        self._arcs: list[list[tuple[int, int]]] = []
        self._silent: list[list[int]] = []
        self._steps: dict[States, Continuations] = {}
        (self._comma,) = tokens.encode(",", spaced=False)
        (self._hyphen,) = tokens.encode("-", spaced=False)
        first = self._state()
        last = self._build(tree, first)
        marked, over = self._state(), self._state()
        self._silent[last].append(marked)
        for mark in ".!?":
            (number,) = tokens.encode(mark, spaced=False)
            self._arcs[last].append((number, marked))
        self._arcs[marked].append((END, over))
        self.start = self._closed({first})

    def __len__(self) -> int:
        return len(self._arcs)

    def step(self, states: States) -> Continuations:
        """What may follow in these states."""
        found = self._steps.get(states)
        if found is None:
            after: dict[int, set[int]] = {}
            for state in states:
                for token, to in self._arcs[state]:
                    after.setdefault(token, set()).add(to)
            found = Continuations(
                np.array(list(after), np.int64), tuple(self._closed(to) for to in after.values())
            )
            self._steps[states] = found
        return found

    def _closed(self, states: set[int]) -> States:
        """These states and all that are reached from them without a token."""
        seen, left = set(states), list(states)
        while left:
            for state in self._silent[left.pop()]:
                if state not in seen:
                    seen.add(state)
                    left.append(state)
        return frozenset(seen)

    def _state(self) -> int:
        self._arcs.append([])
        self._silent.append([])
        return len(self._arcs) - 1

    def _build(self, node: Node, at: int) -> int:
        """Add this node after a state; the state after it."""
        match node:
            case str():
                if is_figure(node):
                    return self._figure(node, at)
                for word in node.split():
                    at = self._word(word, at)
                return at
            case Seq(parts=parts):
                for part in parts:
                    at = self._build(part, at)
                return at
            case Opt(part=part):
                after = self._state()
                self._silent[at].append(after)
                self._silent[self._build(part, at)].append(after)
                return after
            case Alt(choices=choices):
                after = self._state()
                for choice in choices:
                    self._silent[self._build(choice, at)].append(after)
                return after

    def _path(self, at: int, tokens: Sequence[int], to: int) -> None:
        for token in tokens[:-1]:
            between = self._state()
            self._arcs[at].append((token, between))
            at = between
        self._arcs[at].append((tokens[-1], to))

    def _word(self, word: str, at: int) -> int:
        spaced, said, glued = self._maybe_comma(at), self._state(), self._state()
        self._arcs[at].append((self._hyphen, glued))
        for form in (word, *WRITTEN.get(word, ())):
            for cased in (form, form[0].upper() + form[1:]):
                self._path(spaced, self._tokens.encode(cased), said)
            if " " not in form:
                self._path(glued, self._tokens.encode(form, spaced=False), said)
        return said

    def _figure(self, leaf: str, at: int) -> int:
        said = self._state()
        if leaf.startswith(GLUED):
            self._path(at, self._tokens.encode(leaf.removeprefix(GLUED), spaced=False), said)
        else:
            self._path(self._maybe_comma(at), self._tokens.encode(leaf), said)
        return said

    def _maybe_comma(self, at: int) -> int:
        """The state before a word that a space parts from what stands before."""
        spaced = self._state()
        self._silent[at].append(spaced)
        self._arcs[at].append((self._comma, spaced))
        return spaced
