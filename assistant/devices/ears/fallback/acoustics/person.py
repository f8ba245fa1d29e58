"""What is known of a person at a microphone: the length of the tract, the colour of the sound.

One word is too short to tell either from what was said: the mean of its cepstra is as much
the word's as the person's. The words that are understood tell both, the better the more there
are. An utterance's best path says which Gaussians its frames belong to; the offset that brings
the frames nearest to those, summed over this utterance and the earlier ones that were taken, is
added to its features. That is the offset of maximum likelihood linear regression restricted
to a bias (Sankar and Lee, IEEE Transactions on Speech and Audio Processing 4, 1996), with a
prior at none. Everything here is plain data and arithmetic.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.fallback.acoustics.features import CEPSTRA, Floats
from assistant.devices.ears.fallback.acoustics.habits import Habits, habits_from
from assistant.devices.ears.fallback.acoustics.model_files import AcousticModel

Ints = npt.NDArray[np.int64]

WARPS = (0.92, 1.0, 1.08, 1.16, 1.24)
"""Lengths of vocal tract that are tried: below 1 for a longer one than the model's."""

USUAL_WARP = 1.08
WARP_GAIN = 10.0
"""Nats by which another warp must win over the usual one."""

CHAINS = 2
"""Ways in which features are made: from the cleaned spectrum and from the plain one."""

PRIOR_FRAMES = 100.0
"""Frames of words at which half of the offset that they show is believed."""

MEMORY = 0.95
"""What is kept of the earlier utterances with each new one: somebody else may take over."""

MOST_NATS = 60.0
"""A warp is never further behind than this, so that it can come back."""

FURTHEST_OFFSET = 60.0
"""No voice and no microphone is further off than this, in any cepstrum."""

KEPT_FRAMES = 60.0
"""What is kept from one job to the next counts as much as this many frames of words at most.

It may be somebody else who begins the next one.
"""


@dataclass(frozen=True, slots=True)
class Lesson:
    """What one utterance tells of its person.

    ``warps`` (5): nats of each of ``WARPS``, the best at 0. ``firmness``, ``pull``: (chains, 13)
    sums over the frames of words of the Gaussians' inverse variances, and of their distances
    from the frames without any offset, each times its inverse variance. ``frames``: how many.
    """

    warps: Floats
    firmness: Floats
    pull: Floats
    frames: float

    def weighed(self, share: float) -> "Lesson":
        """The same, counting for this share."""
        return Lesson(
            share * self.warps, share * self.firmness, share * self.pull, share * self.frames
        )


@dataclass(frozen=True, slots=True)
class Person:
    """What the lessons so far come to; nothing is known at first."""

    lessons: Lesson = Lesson(
        np.zeros(len(WARPS)), np.zeros((CHAINS, CEPSTRA)), np.zeros((CHAINS, CEPSTRA)), 0.0
    )
    habits: Habits = field(default_factory=Habits)

    @property
    def leaning(self) -> Floats:
        """Nats that each warp has before anything is heard."""
        usual = np.array([WARP_GAIN if warp == USUAL_WARP else 0.0 for warp in WARPS])
        leaning: Floats = usual + np.maximum(self.lessons.warps, -MOST_NATS)
        return leaning

    @property
    def warp(self) -> float:
        """The likeliest warp."""
        return WARPS[int(self.leaning.argmax())]

    def offset(self, chain: int) -> Floats:
        """What is added to the 13 cepstra of this chain of features."""
        known = self.lessons
        share = known.frames / (known.frames + PRIOR_FRAMES)
        offset: Floats = share * known.pull[chain] / np.maximum(known.firmness[chain], 1e-9)
        return offset

    def as_plain(self) -> dict[str, object]:
        """What ``person_from`` takes, numbers and words: no sound can be made from it."""
        lessons = {
            part.name: np.asarray(getattr(self.lessons, part.name)).tolist()
            for part in fields(Lesson)
        }
        return lessons | {"calls": self.habits.as_plain()}

    def for_another_time(self) -> "Person":
        """The same with less weight: what is heard then counts for more."""
        share = min(1.0, KEPT_FRAMES / max(self.lessons.frames, 1.0))
        return Person(self.lessons.weighed(share), self.habits.for_another_time())

    def who_said(self, words: str, ours: float) -> "Person":
        """With one more call that was meant; ``ours``: its chance as if it were anybody's."""
        return replace(self, habits=self.habits.after(words, ours))

    def after(self, new: Lesson) -> "Person":
        """With what one more utterance told."""
        old = self.lessons.weighed(MEMORY)
        warps = old.warps + np.maximum(new.warps, -MOST_NATS)
        return Person(
            Lesson(
                warps - warps.max(),
                old.firmness + new.firmness,
                old.pull + new.pull,
                old.frames + new.frames,
            ),
            self.habits,
        )


def person_from(plain: Mapping[str, object]) -> Person:
    """Back from ``as_plain``. Raises ``ValueError`` for anything else."""
    nobody = Person().lessons
    values: dict[str, Floats] = {}
    for part in fields(Lesson):
        try:
            found = np.array(plain[part.name], dtype=np.float64)
        except (KeyError, TypeError, ValueError):
            raise ValueError(f"{part.name} is not there, or no numbers") from None
        wanted = np.shape(getattr(nobody, part.name))
        if found.shape != wanted or not np.isfinite(found).all():
            raise ValueError(f"{part.name} is not {wanted or 'one'} finite numbers")
        values[part.name] = found
    if values["frames"] < 0 or (values["firmness"] < 0).any() or (values["warps"] > 0).any():
        raise ValueError("numbers of the wrong sign")
    person = Person(
        Lesson(values["warps"], values["firmness"], values["pull"], float(values["frames"])),
        habits_from(plain.get("calls", [])),
    )
    if any(np.abs(person.offset(chain)).max() > FURTHEST_OFFSET for chain in range(CHAINS)):
        raise ValueError(f"it is further off than {FURTHEST_OFFSET:g} in one cepstrum")
    return person


Mask = npt.NDArray[np.bool_]


def distances(
    model: AcousticModel, values: npt.NDArray[np.floating], path: Ints, inside: Mask
) -> tuple[Floats, Floats]:
    """Firmness and pull, 13 each, of cepstra (frames, 13) along a path of tied states.

    Only the frames ``inside`` words count. Every Gaussian of a frame's state counts by its
    share in the frame's likelihood.
    """
    firmness, pull = np.zeros(CEPSTRA), np.zeros(CEPSTRA)
    books = model.codebook[path]
    factors = np.concatenate([values * values, values], axis=1).astype(np.float32)
    for book in np.unique(books[inside]):
        at = np.flatnonzero((books == book) & inside)
        columns = slice(int(book) * 128, int(book) * 128 + 128)
        gaussians = model.gaussians[0][:, columns]
        density = factors[at] @ gaussians + model.constants[0][columns]
        share = np.exp(density - density.max(axis=1, keepdims=True))
        share *= model.mixtures[0][:, path[at]].T
        share /= share.sum(axis=1, keepdims=True) + 1e-30
        # The factors are [-1 / (2 variance), mean / variance] of [x * x, x].
        inverse = share @ (-2 * gaussians[:CEPSTRA]).T
        firmness += inverse.sum(axis=0)
        pull += (share @ gaussians[CEPSTRA:].T - inverse * values[at]).sum(axis=0)
    return firmness, pull


def lesson(
    model: AcousticModel,
    warps: Floats,
    chains: Sequence[npt.NDArray[np.floating]],
    offsets: Sequence[Floats],
    path: Ints,
    inside: Mask,
) -> Lesson:
    """What an utterance tells: ``chains`` are its cepstra with ``offsets`` added to them."""
    firmness, pull = np.zeros((CHAINS, CEPSTRA)), np.zeros((CHAINS, CEPSTRA))
    for chain, (values, offset) in enumerate(zip(chains, offsets, strict=True)):
        firmness[chain], pull[chain] = distances(model, values, path, inside)
        pull[chain] += firmness[chain] * offset
    return Lesson(warps - warps.max(), firmness, pull, float(inside.sum()))
