"""The leading recogniser: its files, its tokens, its networks, and what it makes of sound."""

import importlib.util
import shutil
import sys
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from assistant.devices import engines
from assistant.devices.ears import Ears, Utterance
from assistant.devices.endpoint import Endpointer
from assistant.devices.model_faults import RecogniserError
from assistant.devices.neural import model_files
from assistant.devices.neural.model_files import FILES, read_model_files, shipped_folder
from assistant.devices.verify import judge
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from grammar.meaning import Command, OffScale, Reading
from grammar.offer import Offer, everything
from grammar.scale import Scale
from tests.ears.sounds import RATE, Samples, clip, quiet

pytestmark = pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not() or "-")

if not model_files.why_not():
    from assistant.devices.neural.neural_ears import Neural

ALL = everything(Scale())
SWEEP = phase_offer(Sweeping.SWEEP, Scale())


def hear(neural: "Neural", sound: Samples, offer: Offer = ALL) -> list[Utterance]:
    ears = Ears(neural, judge, Endpointer())
    ears.arm(offer)
    return [*ears.feed(sound), *ears.flush()]


def test_calls_and_commands_are_accepted(neural: "Neural") -> None:
    sound = np.concatenate([clip("right plus one"), quiet(0.5), clip("say again", "slt")])
    first, second = hear(neural, sound)
    assert first.outcome == second.outcome == "accept"
    assert first.meaning == Reading(Decimal(1), signed=True, station="right")
    assert second.meaning == Command("say again")


def test_a_bare_number_is_asked(neural: "Neural") -> None:
    (heard,) = hear(neural, clip("front eight", "slt"), SWEEP)
    assert (heard.outcome, heard.meaning) == (
        "ask", Reading(Decimal(8), signed=False, station="front"),
    )  # fmt: skip


def test_a_number_beyond_the_dial_is_told_as_such(neural: "Neural") -> None:
    small = phase_offer(Sweeping.SWEEP, Scale("thou", 5))
    (heard,) = hear(neural, clip("front plus six"), small)
    assert heard.outcome == "reject"
    assert heard.meaning == OffScale(Decimal(6), "beyond", True, "front")
    coarse = phase_offer(Sweeping.SWEEP, Scale("thou", 30, Decimal(1)))
    (heard,) = hear(neural, clip("plus four point five", "awb"), coarse)
    assert heard.outcome == "reject"
    assert heard.meaning == OffScale(Decimal("4.5"), "finer", True)


@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(2 * RATE, np.int16),
        np.full(2 * RATE, 32767, np.int16),
        np.array([0] * 800 + [32767, -32768] + [0] * 1500, np.int16),
        np.zeros(0, np.int16),
        np.random.default_rng(1).integers(-20_000, 20_000, 7 * RATE).astype(np.int16),
    ],
    ids=["zeros", "full scale", "click", "nothing", "seven seconds of noise"],
)
def test_what_is_no_speech_is_no_call(neural: "Neural", sound: Samples) -> None:
    assert all(heard.outcome == "reject" for heard in hear(neural, sound))


def test_it_must_be_told_what_to_listen_for() -> None:
    with pytest.raises(RecogniserError, match="what to listen for"):
        Neural().decode(clip("right plus one"))


def _copied(folder: Path) -> Path:
    for name in FILES:
        shutil.copy(shipped_folder() / name, folder / name)
    return folder


def test_missing_truncated_and_other_files_are_named(tmp_path: Path) -> None:
    folder = _copied(tmp_path)
    decoder = folder / "decoder_model_merged.ort"
    whole = decoder.read_bytes()
    decoder.write_bytes(whole[:-1])
    with pytest.raises(RecogniserError, match=r"decoder_model_merged\.ort .*damaged.*install it"):
        read_model_files(folder)
    decoder.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    with pytest.raises(RecogniserError, match="damaged"):
        Neural(folder)
    decoder.unlink()
    with pytest.raises(RecogniserError, match="lacks decoder"):
        read_model_files(folder)


def test_the_fallback_hears_where_the_model_cannot(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(model_files, "shipped_folder", lambda: tmp_path)
    found = engines.chosen("auto")
    assert found.recogniser.name == "pocketsphinx"
    assert "lacks encoder_model.ort" in found.instead
    with pytest.raises(RecogniserError, match="lacks"):
        engines.chosen("neural")


def test_the_fallback_hears_where_the_wheel_does_not_exist(monkeypatch: pytest.MonkeyPatch) -> None:
    found = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util,
        "find_spec",
        lambda name, *more: None if name == "moonshine_voice" else found(name, *more),
    )
    chosen = engines.chosen("auto")
    assert chosen.recogniser.name == "pocketsphinx"
    assert chosen.instead == "the package moonshine-voice is not installed"


def test_the_package_itself_is_never_imported(neural: "Neural") -> None:
    hear(neural, clip("right plus one"))
    assert "moonshine_voice" not in sys.modules
