"""A person is known better with every utterance: what is learnt, and what it is good for."""

import copy
import itertools
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
import scipy.optimize

from assistant.commands.hear import offered
from assistant.devices.ears.endpoint import Endpointer
from assistant.devices.ears.fallback.acoustics import person as person_module
from assistant.devices.ears.fallback.acoustics.features import CEPSTRA
from assistant.devices.ears.fallback.acoustics.model_files import AcousticModel, read_model
from assistant.devices.ears.fallback.acoustics.person import (
    CHAINS,
    MEMORY,
    MOST_NATS,
    PRIOR_FRAMES,
    USUAL_WARP,
    WARPS,
    Lesson,
    Person,
    distances,
    lesson,
)
from assistant.devices.ears.fallback.acoustics.scores import densities
from assistant.devices.ears.fallback.pocketsphinx_ears import LATELY, PocketSphinx
from assistant.devices.ears.fallback.pocketsphinx_library import model_folder
from assistant.devices.ears.hearing import Decoded, Ears, Utterance
from assistant.devices.ears.verify import verify
from grammar.offer import everything
from grammar.scale import Scale
from tests.benchmarks.hearing_clips import FIXTURES
from tests.ears.sounds import RATE, clip, quiet
from tests.recordings import read_all

Floats = npt.NDArray[np.float64]


@pytest.fixture(scope="module")
def model() -> AcousticModel:
    return read_model(model_folder())


@pytest.fixture(scope="module")
def speech(model: AcousticModel) -> tuple[Floats, npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """Frames drawn near to the Gaussians of a path of states, the path, and what is words."""
    chance = np.random.default_rng(4)
    path = np.repeat(chance.choice(len(model.codebook), 30, replace=False), 5)
    values = np.empty((len(path), CEPSTRA))
    for frame, state in enumerate(path):
        likeliest = int(model.mixtures[0][:, state].argmax())
        column = int(model.codebook[state]) * 128 + likeliest
        factors = model.gaussians[0][:, column]
        variance = -1 / (2 * factors[:CEPSTRA])
        mean = factors[CEPSTRA:] * variance
        values[frame] = mean + 0.5 * np.sqrt(variance) * chance.standard_normal(CEPSTRA)
    inside = np.ones(len(path), bool)
    inside[:10] = False
    return values, path, inside


def likelihood(
    model: AcousticModel, values: Floats, path: npt.NDArray[np.int64], inside: npt.NDArray[np.bool_]
) -> float:
    """The log likelihood of the path's states, from the definition of a Gaussian mixture."""
    total = 0.0
    density = densities(model, 0, values).astype(float)
    for frame in np.flatnonzero(inside):
        columns = int(model.codebook[path[frame]]) * 128 + np.arange(128)
        weights = model.mixtures[0][:, path[frame]]
        total += float(np.log(np.exp(density[frame, columns]) @ weights))
    return total


def test_each_offset_is_likelier_than_the_one_before(
    model: AcousticModel, speech: tuple[Floats, npt.NDArray[np.int64], npt.NDArray[np.bool_]]
) -> None:
    # Expectation-maximisation never lowers the likelihood (Dempster, Laird, Rubin 1977), and
    # where it rests no direction is better: scipy's minimiser is the second opinion.
    values, path, inside = speech
    wrong = np.linspace(-6, 6, CEPSTRA)
    moved, offset = values + wrong, np.zeros(CEPSTRA)
    found = [likelihood(model, moved, path, inside)]
    for _ in range(40):
        firmness, pull = distances(model, moved + offset, path, inside)
        offset = offset + pull / firmness
        found.append(likelihood(model, moved + offset, path, inside))
    assert all(after >= before - 1e-3 for before, after in itertools.pairwise(found))
    assert found[1] > found[0] + 1

    def unlikely(by: Floats) -> float:
        return -likelihood(model, moved + by, path, inside)

    best = scipy.optimize.minimize(unlikely, offset, method="Powell", options={"maxiter": 3})
    assert best.fun > -found[-1] - 0.05 * (found[-1] - found[0])
    assert np.abs(offset + wrong).mean() < 0.3 * np.abs(wrong).mean()


def told(frames: float, by: float = 0.5, warp: float = USUAL_WARP) -> Lesson:
    """What an utterance tells that lies so far from the model in every cepstrum."""
    firmness = np.full((CHAINS, CEPSTRA), 2.0 * frames)
    warps = np.array([0.0 if one == warp else -30.0 for one in WARPS])
    return Lesson(warps, firmness, by * firmness, frames)


def test_nothing_is_known_at_first() -> None:
    stranger = Person()
    assert stranger.warp == USUAL_WARP
    assert not stranger.offset(0).any()
    assert not stranger.offset(1).any()


def test_the_more_is_heard_the_more_is_believed() -> None:
    person = Person().after(told(PRIOR_FRAMES))
    assert person.offset(0) == pytest.approx(np.full(CEPSTRA, 0.25))
    for _ in range(100):
        person = person.after(told(PRIOR_FRAMES))
    assert person.offset(1) == pytest.approx(np.full(CEPSTRA, 0.5), rel=0.06)
    assert person.lessons.frames <= PRIOR_FRAMES / (1 - MEMORY)


def test_somebody_else_may_take_over() -> None:
    person = Person()
    for _ in range(30):
        person = person.after(told(60, 0.5, WARPS[0]))
    assert person.warp == WARPS[0]
    assert (person.leaning >= -MOST_NATS).all()
    utterances = 0
    while person.warp != WARPS[-1]:
        person = person.after(told(60, -0.5, WARPS[-1]))
        utterances += 1
    assert utterances <= 20
    for _ in range(40):
        person = person.after(told(60, -0.5, WARPS[-1]))
    assert (person.offset(0) < -0.3).all()


def test_an_offset_that_is_applied_already_is_counted_once(
    model: AcousticModel, speech: tuple[Floats, npt.NDArray[np.int64], npt.NDArray[np.bool_]]
) -> None:
    values, path, inside = speech
    none, some = np.zeros(CEPSTRA), np.full(CEPSTRA, 0.1)
    plain = lesson(model, np.zeros(5), (values, values), (none, none), path, inside)
    moved = lesson(model, np.zeros(5), (values + some, values), (some, none), path, inside)
    assert plain.frames == inside.sum()
    # Shares in the Gaussians move a little, the place that is pulled to hardly.
    assert moved.pull[0] / moved.firmness[0] == pytest.approx(
        plain.pull[0] / plain.firmness[0], abs=0.05
    )
    assert moved.pull[1] == pytest.approx(plain.pull[1])


def test_a_voice_is_asked_less_when_it_is_learnt(
    recogniser: PocketSphinx, monkeypatch: pytest.MonkeyPatch
) -> None:
    sound, offer = read_all(FIXTURES / "rms_commands.flac"), offered("command", Scale())
    sound = sound[: 42 * RATE]  # every command, but none of the shims

    def heard() -> list[Utterance]:
        ears = Ears(recogniser, verify, Endpointer())
        ears.arm(offer)
        return [*ears.feed(sound), *ears.flush()]

    learnt = heard()
    monkeypatch.setattr(recogniser, "learn", lambda _: None)
    forgotten = heard()
    assert learnt[0].confidence == forgotten[0].confidence
    asked, asked_without = (
        sum(one.outcome != "accept" for one in found) for found in (learnt, forgotten)
    )
    assert asked < asked_without


def test_an_utterance_is_moved_by_what_it_tells_itself(
    recogniser: PocketSphinx, monkeypatch: pytest.MonkeyPatch
) -> None:
    recogniser.forget()
    recogniser.arm(offered("command", Scale()))
    calls = [
        clip(words, voice)
        for words in ("done", "yes", "stop", "skip", "say again")
        for voice in ("awb", "rms", "slt")
    ]

    def sureness() -> float:
        chances = np.array([recogniser.decode(call).ours for call in calls])
        return float(np.log(chances / (1 - chances)).mean())

    moved = sureness()
    monkeypatch.setattr(person_module, "PRIOR_FRAMES", 1e12)
    assert sureness() < moved


def test_a_new_stream_is_a_new_speaker(recogniser: PocketSphinx) -> None:
    call = np.concatenate([clip("right plus one", "awb"), quiet(0.6)])
    ears = Ears(recogniser, verify, Endpointer())
    ears.arm(everything(Scale()))
    alone = ears.feed(call)[0].confidence
    again = ears.feed(call)[0].confidence
    ears.start_over()
    assert ears.feed(call)[0].confidence == alone != again


def test_what_was_turned_down_teaches_nothing(recogniser: PocketSphinx) -> None:
    recogniser.forget()
    recogniser.arm(everything(Scale()))
    first = recogniser.decode(clip("right plus one"))
    assert recogniser.decode(clip("right plus one")) == first
    recogniser.learn(first)
    recogniser.learn(first)
    once = recogniser.decode(clip("right plus one"))
    assert once != first
    recogniser.forget()
    assert recogniser.decode(clip("right plus one")) == first


def test_what_turns_out_not_to_be_meant_was_never_learnt(recogniser: PocketSphinx) -> None:
    recogniser.forget()
    recogniser.arm(everything(Scale()))
    right, wrong = recogniser.decode(clip("right plus one")), recogniser.decode(clip("yes"))
    recogniser.learn(right)
    recogniser.confirm(right)
    without = recogniser.person.as_plain()
    recogniser.learn(wrong)
    recogniser.confirm(wrong)
    assert recogniser.person.as_plain() != without
    recogniser.unlearn(wrong)
    assert recogniser.person.as_plain() == without

    def another() -> Decoded:
        # The same call once more: what it tells is known by which object it is.
        return replace(right, told=copy.copy(right.told))

    # It is known among those that came after it, but not for ever.
    recogniser.learn(wrong)
    for _ in range(LATELY - 1):
        recogniser.learn(another())
    among = recogniser.person.as_plain()
    recogniser.unlearn(wrong)
    assert recogniser.person.as_plain() != among
    recogniser.learn(wrong)
    for _ in range(LATELY):
        recogniser.learn(another())
    long_after = recogniser.person.as_plain()
    recogniser.unlearn(wrong)
    assert recogniser.person.as_plain() == long_after
