"""A spoilt sound is known as one and brought nearer to what it was; a clean one stays as it is."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pytest

from assistant.devices.ears.neural import model_files
from assistant.simulation.noise import from_int16
from grammar.offer import everything
from grammar.scale import Scale
from tests.benchmarks.hearing_conditions import condition
from tests.ears.sounds import Samples, clip

pytestmark = pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not() or "-")

if not model_files.why_not():
    from assistant.devices.ears.neural.adapter import Adapter, summary, surroundings
    from assistant.devices.ears.neural.evidence import Evidence
    from assistant.devices.ears.neural.gates import ADAPTED_WORD_WEIGHTS, TALK_WEIGHTS, judged
    from assistant.devices.ears.neural.transducer import Encoded
    from tests.benchmarks.hearing_adapter import (
        SHARES,
        Pair,
        Sums,
        drawn_room,
        fitted_map,
        fitted_spoilt,
        spoilt,
    )

if TYPE_CHECKING:
    from assistant.devices.ears.neural.neural_ears import Neural

ALL = everything(Scale("thou", 99))
SAID = ("right plus one", "stop", "skip", "yes")
SPOILT = ("room:0.8:1.5", "fan:6")


def _encoded(neural: "Neural", samples: Samples) -> "Encoded":
    return neural._encoded((samples / 32768).astype(np.float32))


def _spoilt(said: str, how: str) -> Samples:
    return condition(how).apply(from_int16(clip(said)), said, ())


@pytest.mark.parametrize("how", SPOILT)
def test_a_spoilt_sound_is_brought_nearer_to_what_it_was(neural: "Neural", how: str) -> None:
    for said in SAID:
        heard, wanted = (_encoded(neural, each) for each in (_spoilt(said, how), clip(said)))
        made = Adapter().adapted(heard)
        before, after = (np.mean((each.vectors - wanted.vectors) ** 2) for each in (heard, made))
        assert after < 0.9 * before


def test_what_is_spoilt_is_known_as_such(neural: "Neural") -> None:
    adapter = Adapter()
    clean = [adapter.is_spoilt(_encoded(neural, clip(said))) for said in SAID]
    worse = [adapter.is_spoilt(_encoded(neural, _spoilt(said, SPOILT[0]))) for said in SAID]
    assert (clean, worse) == ([False] * len(SAID), [True] * len(SAID))


def test_only_a_spoilt_sound_is_heard_otherwise_and_at_all_paces(
    neural: "Neural", monkeypatch: pytest.MonkeyPatch
) -> None:
    neural.arm(ALL)
    clean, worse = clip("right plus one"), _spoilt("right plus one", SPOILT[0])
    before = [neural.decode(each) for each in (clean, worse)]
    adapted = list[int]()

    class Counting(Adapter):
        def adapted(self, encoded: "Encoded") -> "Encoded":
            adapted.append(encoded.samples)
            return replace(encoded, vectors=encoded.vectors * 0.9)

    monkeypatch.setattr(neural, "_adapter", Counting())
    monkeypatch.setattr("assistant.devices.ears.neural.neural_ears.HOPELESS", -1.0)
    monkeypatch.setattr("assistant.devices.ears.neural.neural_ears.CLEAR", 99.0)
    after = neural.decode(clean)
    assert not adapted
    assert isinstance(after.told, Evidence)
    assert not after.told.spoilt
    heard = neural.decode(worse)
    assert isinstance(heard.told, Evidence)
    assert heard.told.spoilt
    assert len(set(adapted)) == 3
    assert heard.ours != before[1].ours


def test_words_through_the_adapter_have_weights_of_their_own(neural: "Neural") -> None:
    neural.arm(ALL)
    word, call = (neural.decode(clip(said)).told for said in ("skip", "right plus one"))
    assert isinstance(word, Evidence)
    assert isinstance(call, Evidence)
    word, call = (replace(each, spoilt=True) for each in (word, call))
    assert judged(word, ALL) == judged(word, ALL, ADAPTED_WORD_WEIGHTS)
    assert judged(word, ALL) != judged(word, ALL, TALK_WEIGHTS)
    assert judged(call, ALL) == judged(call, ALL, TALK_WEIGHTS)
    clean = replace(word, spoilt=False)
    assert judged(clean, ALL) == judged(clean, ALL, TALK_WEIGHTS)


def test_a_frame_is_given_with_its_neighbours_and_the_mean() -> None:
    found = surroundings(np.array([[1.0], [2.0], [6.0]], np.float32))
    assert found.tolist() == [[1, 1, 1, 2, 3], [1, 1, 2, 6, 3], [1, 2, 6, 6, 3]]
    assert summary(np.array([[1.0], [3.0]], np.float32)).tolist() == [1, 2, 1]


def _pair(heard: npt.NDArray[np.float32], clean: npt.NDArray[np.float32], sort: Any) -> "Pair":
    return Pair("somebody", sort, heard, clean)


def test_the_fit_finds_the_map_that_was_put_in() -> None:
    chance = np.random.default_rng(3)
    planted = chance.normal(0.0, 0.1, (13, 3)).astype(np.float32)
    sums = Sums(13, 3)
    for _ in range(60):
        heard = chance.normal(1.0, 5.0, (40, 3)).astype(np.float32)
        sums.take(_pair(heard, heard + surroundings(heard) @ planted, "room"))
    assert np.allclose(fitted_map([sums]), planted, atol=0.01)


def test_the_fit_tells_spoilt_from_clean() -> None:
    chance = np.random.default_rng(4)
    pairs = []
    for number in range(200):
        heard = chance.normal(number % 2, 1.0, (40, 3)).astype(np.float32)
        pairs.append(_pair(heard, heard, ("clean", "room")[number % 2]))
    adapter = Adapter(np.zeros((13, 3), np.float32), fitted_spoilt(pairs))
    taken = [adapter.is_spoilt(Encoded(pair.heard[None], 0)) for pair in pairs]
    assert taken == [pair.sort == "room" for pair in pairs]


def test_a_spoilt_sound_stays_in_its_place() -> None:
    """Frame by frame it is compared with the clean one: a room's direct sound comes at once."""
    sound = from_int16(clip("stop"))
    rooms = [drawn_room(np.random.default_rng(1))]
    for sort in SHARES:
        made = from_int16(spoilt(sound, sort, np.random.default_rng(2), rooms, [sound]))
        likeness = [float(np.corrcoef(sound, np.roll(made, by))[0, 1]) for by in range(-48, 49, 8)]
        assert int(np.argmax(likeness)) == 6
