"""The leading recogniser: its files, its tokens, its networks, and what it makes of sound."""

import importlib.util
import shutil
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from assistant.devices.ears import engines
from assistant.devices.ears.endpoint import Cut, Endpointer
from assistant.devices.ears.hearing import Ears, Utterance
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.neural import model_files
from assistant.devices.ears.neural.model_files import FILES, read_model_files, shipped_folder
from assistant.devices.ears.verify import verify
from assistant.dialogue.messages import TURNED_DOWN
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from grammar.meaning import Command, OffScale, Reading
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.scale import Scale
from grammar.written import wide_sentences
from tests.ears.sounds import RATE, Samples, clip, noisy, quiet, utterances

pytestmark = pytest.mark.skipif(bool(model_files.why_not()), reason=model_files.why_not() or "-")

if not model_files.why_not():
    from assistant.devices.ears.neural.beam import Text
    from assistant.devices.ears.neural.evidence import Candidate, Evidence, Loudness
    from assistant.devices.ears.neural.gates import (
        ELSEWHERE_MARGIN,
        LEAST_MARGIN,
        LONGER_MARGIN,
        UNWRITTEN_MARGIN,
        judged,
    )
    from assistant.devices.ears.neural.network import Network
    from assistant.devices.ears.neural.neural_ears import Neural, goes_on
    from assistant.devices.ears.neural.tokens import END, Tokens

ALL = everything(Scale())
SWEEP = phase_offer(Sweeping.SWEEP, Scale())


@pytest.fixture(scope="module")
def tokens() -> "Tokens":
    return Tokens(read_model_files().tokens)


def hear(neural: "Neural", sound: Samples, offer: Offer = ALL) -> list[Utterance]:
    ears = Ears(neural, verify, Endpointer())
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
    assert all(heard.outcome in TURNED_DOWN for heard in hear(neural, sound))


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


def test_tokens_come_back_as_the_text(tokens: "Tokens") -> None:
    assert len(tokens) == 32_768
    for text in ("Left plus six and a half thou.", "-0.25", "Say again?", "Twenty-three, for"):
        assert tokens.decode(tokens.encode(text)) == text
    # A join that is itself a piece was learnt from its parts: "left" is one, "Left" another.
    assert len(tokens.encode("left")) == len(tokens.encode("Left")) == 1
    assert tokens.encode("left") != tokens.encode("left", spaced=False)
    with pytest.raises(ValueError, match="inside an entry"):
        Tokens(bytes([5, 65]))


def _takes(network: "Network", numbers: tuple[int, ...]) -> bool:
    """Whether a network lets these tokens pass, the end included."""
    states = network.start
    for number in (*numbers, END):
        step = network.step(states)
        places = np.flatnonzero(step.tokens == number)
        if not len(places):
            return False
        states = step.after[int(places[0])]
    return True


def test_a_network_takes_the_sentences_however_they_are_written(tokens: "Tokens") -> None:
    network = Network(wide_sentences(SWEEP), tokens)
    for text in (
        "left plus six and a half", "Left, plus six and a half.", "Left plus 6.5", "Left -6",
        "front minus twenty-three", "Front, minus twenty three!", "Right plus for", "+12 though.",
        "correction write minus too", "Next.", "Back plus ninety nine", "minus one hundred and six",
        "plus one point two five", "Plus 6 and a quarter", "Plus 13 thousand",
    ):  # fmt: skip
        assert _takes(network, tokens.encode(text)), text
    for text in ("left", "left plus", "plus six six six six", "yes", "left six right", "", "1,2"):
        assert not _takes(network, tokens.encode(text)), text


def test_a_station_by_itself_is_no_command_and_holds_the_call_open(neural: "Neural") -> None:
    """The station's part of a call, a pause while the dial is read, and the rest."""
    sound = clip("left plus three")
    said = next(row for row in utterances() if row["said"] == "left plus three")
    _, _, ended_s = said["words"][0]
    cut = round((ended_s - said["start_s"] + 0.4) * RATE)
    alone = np.concatenate([sound[:cut], quiet(1.5)])
    assert all(heard.outcome in TURNED_DOWN for heard in hear(neural, alone, SWEEP))
    for pause_s in (0.4, 0.7):
        parted = np.concatenate([sound[:cut], quiet(pause_s), sound[cut:], quiet(0.5)])
        (heard,) = hear(neural, parted, SWEEP)
        assert (heard.outcome, heard.words) == ("accept", "left plus three")


def test_a_station_with_more_after_it_is_not_alone(
    neural: "Neural", tokens: "Tokens", monkeypatch: pytest.MonkeyPatch
) -> None:
    """The model hears the station and nothing more; the sound is too long for that."""
    long = replace(_evidence("right eight", free="right"), loudness=Loudness(1.1, 35.0))
    short = replace(long, loudness=Loudness(0.6, 35.0))
    assert goes_on(long, "right")
    assert not goes_on(short, "right")
    assert goes_on(replace(short, free="right late"), "right")
    assert not goes_on(replace(_evidence("locked"), loudness=long.loudness), "right")

    begun = Text(tuple(tokens.encode("right")), 20.0)
    monkeypatch.setattr(Neural, "_beginning", lambda *_: begun)
    monkeypatch.setattr(Neural, "_at_other_paces", lambda _, found, __: found)
    for found, words in ((long, "right eight"), (short, "")):
        monkeypatch.setattr(Neural, "_evidence", lambda *_, found=found, **__: found)
        neural.arm(SWEEP)
        decoded = neural.decode(clip("right plus one"))
        assert "".join(one.words for one in decoded.hypotheses[:1]) == words
        assert decoded.unfinished


def test_another_station_than_the_next_one_needs_a_wide_margin(neural: "Neural") -> None:
    sound = noisy(clip("left plus three"), 10)
    (plain,) = hear(neural, sound, SWEEP)
    (awaited,) = hear(neural, sound, replace(SWEEP, awaited="left"))
    (other,) = hear(neural, sound, replace(SWEEP, awaited="right"))
    assert plain.meaning == awaited.meaning == other.meaning
    margins = [_margin(one) for one in (plain, awaited, other)]
    assert margins[1] >= margins[0] >= margins[2]
    # The model would write something else here ("let us pray"), which takes a margin of its own.
    wide = margins[2] >= ELSEWHERE_MARGIN and _evidence_of(other).least >= UNWRITTEN_MARGIN
    assert other.outcome == ("accept" if wide else "ask")


def _evidence_of(heard: Utterance) -> "Evidence":
    assert isinstance(heard.decoded.told, Evidence)
    return heard.decoded.told


def _margin(heard: Utterance) -> float:
    return _evidence_of(heard).margin


def _evidence(best: str, *others: tuple[str, float], free: str = "", reach: int = 99) -> "Evidence":
    """Clear evidence for these words, with rivals so many nats behind."""
    wide = everything(Scale("thou", reach))
    candidates = tuple(
        Candidate(words, wide.taken(parse(words, wide.scale)), -0.8 - behind, 6)
        for words, behind in ((best, 0.0), *others)
    )
    free = free or best
    meant = wide.taken(parse(free, wide.scale))
    return Evidence(candidates, free, -0.8, 6, meant, Loudness(1.2, 35.0))


def _outcome(evidence: "Evidence", offer: Offer | None = None) -> str:
    cut = Cut("final", 0.0, 1.2, quiet(1.2), 60.0, 20.0, 40.0)
    return verify(judged(evidence, offer or everything(Scale("thou", 99))), cut)


@pytest.mark.parametrize(("teen", "ty"), [("thirteen", "thirty"), ("nineteen", "ninety")])
def test_a_teen_whose_ty_is_the_runner_up_is_asked(teen: str, ty: str) -> None:
    for one, other in ((teen, ty), (ty, teen)):
        best = f"left plus {one}"
        assert _outcome(_evidence(best, ("left plus eleven", 11.0))) == "accept"
        assert _outcome(_evidence(best, (f"left plus {other}", 11.0))) == "ask"
        assert _outcome(_evidence(best, (f"left plus {other} thou", 11.0))) == "ask"
    decoded = judged(_evidence(f"left plus {teen}", (f"left plus {ty}", 6.0)), ALL)
    assert [one.words.split()[-1] for one in decoded.hypotheses] == [teen, ty]


def test_a_ty_off_the_dial_is_asked_as_the_teen_that_is_on_it() -> None:
    small = everything(Scale("thou", 15))
    near = _evidence("left plus forty", ("left plus fourteen", 4.0), reach=15)
    decoded = judged(near, small)
    assert [one.words for one in decoded.hypotheses] == ["left plus fourteen", "left plus forty"]
    assert _outcome(near, small) == "ask"
    for far in (
        _evidence("left plus forty", ("left plus fourteen", 7.0), reach=15),
        _evidence("left plus forty", ("left plus four", 2.0), reach=15),
    ):
        first = judged(far, small).hypotheses[0]
        assert first.meaning == OffScale(Decimal(40), "beyond", True, "left")
        assert _outcome(far, small) == "reject"


def test_what_another_pace_denies_is_asked() -> None:
    sure = _evidence("left plus nine", ("left plus five", 9.0))
    assert _outcome(sure) == "accept"
    for least in (LEAST_MARGIN - 0.1, -1.0):
        assert _outcome(replace(sure, least=least)) == "ask"


def test_a_reading_that_would_not_be_written_needs_more() -> None:
    """A "circle" may be six or zero; of a command the word itself decides."""
    near = replace(_evidence("left minus nine"), least=UNWRITTEN_MARGIN - 0.1)
    assert _outcome(near) == "accept"
    other = _evidence("left minus nine", free="left minus circle")
    assert _outcome(replace(other, least=UNWRITTEN_MARGIN + 0.1)) == "accept"
    assert _outcome(replace(other, least=UNWRITTEN_MARGIN - 0.1)) == "ask"
    command = replace(_evidence("say again", free="see again"), least=UNWRITTEN_MARGIN - 0.1)
    assert _outcome(command) == "accept"


def test_what_may_be_the_beginning_of_a_longer_number_is_asked() -> None:
    best = "left minus three"
    for longer, behind, outcome in (
        ("left minus three eight", LONGER_MARGIN - 0.5, "ask"),
        ("left minus three and a half", LONGER_MARGIN - 0.5, "ask"),
        ("left minus three eight", LONGER_MARGIN + 0.5, "accept"),
        ("left minus three thou", LONGER_MARGIN - 0.5, "accept"),
        ("left minus nine", LONGER_MARGIN - 0.5, "accept"),
    ):
        assert _outcome(_evidence(best, (longer, behind))) == outcome, longer


def test_what_is_far_behind_is_no_alternative() -> None:
    decoded = judged(_evidence("left plus six", ("left plus eight", 7.0), ("yes", 9.0)), ALL)
    assert [one.words for one in decoded.hypotheses] == ["left plus six", "left plus eight"]


def test_a_command_that_may_be_a_station_alone_is_turned_down() -> None:
    assert _outcome(_evidence("next", ("yes", 8.0))) == "accept"
    for station in ("left", "right", "front", "back", "rear"):
        assert _outcome(_evidence("next", ("yes", 8.0), free=station)) == "talk"


def test_the_same_sound_gives_the_same_whatever_came_before(neural: "Neural") -> None:
    neural.arm(SWEEP)
    first = neural.decode(clip("right plus one"))
    neural.decode(clip("left minus one", "awb"))
    assert neural.decode(clip("right plus one")) == first
