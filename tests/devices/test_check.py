"""What ``check`` says of a bench where this or that is missing."""

import io
import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from assistant.commands.check import (
    Wanted,
    look_at_machines,
    look_at_record,
    look_at_terminal,
    run_check,
    summary,
)
from assistant.commands.check_sound import Finding
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.hearing import Decoded, Ears, Utterance
from assistant.devices.ears.room import Room, describe_levels, describe_room, measure
from assistant.devices.ears.spoken_trial import PHRASES, SpokenTrial, verdict
from assistant.devices.ears.verify import verify
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.library import SoundLibrary
from assistant.devices.sound.microphone import Block
from assistant.dialogue.messages import Decision
from assistant.records.journal.writer_lock import lock_path
from assistant.simulation.speech import SpeechBank, voices
from grammar.meaning import Hypothesis, Unclear
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.devices.sound_stand_in import MIC, OUT, StandInLibrary
from tests.ears.untaught import Untaught
from tests.records.jobs import record, rehearsed

Samples = npt.NDArray[np.int16]


class _Deaf(Untaught):
    """A recogniser that always hears the same."""

    name = "stand-in"

    def __init__(self, words: str = "front plus six") -> None:
        self._words = words

    def arm(self, offer: Offer) -> None:
        assert offer.readings

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        del samples, lead
        meaning = parse(self._words, Scale())
        return Decoded((Hypothesis(self._words, meaning, 1.0),), self._words, 1.0)


def _broken() -> _Deaf:
    raise RuntimeError("the model's folder\nis empty")


@contextmanager
def _running(library: StandInLibrary, sound: Samples) -> Iterator[None]:
    """Deliver a sound again and again to whatever stream is open, and take what is played."""
    over = threading.Event()

    def run() -> None:
        at = 0
        while not over.wait(0.001):
            for stream in [each for each in library.streams if each.active()]:
                if stream is library.streams[0]:
                    stream.take(480)
                else:
                    stream.deliver(sound[at : at + 480])
                    at = (at + 480) % (len(sound) - 480)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _parts(
    tmp_path: Path,
    open_library: Callable[[], SoundLibrary],
    make: Callable[[], _Deaf] = _Deaf,
    **more: object,
) -> dict[str, dict[str, str]]:
    wanted = Wanted(
        tmp_path / "jobs.db", make, verify, listen_s=0.5, open_library=open_library,
        **more,  # type: ignore[arg-type]
    )  # fmt: skip
    out = io.StringIO()
    assert run_check(wanted, io.StringIO(), out, as_json=True) == 0
    told = json.loads(out.getvalue())
    assert told["possible"] is True
    assert not list(tmp_path.iterdir()), "nothing is left behind"
    return {row["part"]: row for row in told["parts"]}


def _noise(level_db: float) -> Samples:
    rms = 32768 * 10 ** (level_db / 20)
    return np.asarray(np.random.default_rng(1).normal(0, rms, 16_000), np.int16)


def test_everything_works(tmp_path: Path) -> None:
    library = StandInLibrary(MIC, OUT)
    sample = (np.zeros(16_000, np.int16), "front plus six")
    with _running(library, _noise(-60.0)):
        parts = _parts(tmp_path, lambda: library, models=("small",), sample=lambda: sample)
    for part in ("record", "recogniser", "voice", "speaker", "microphone", "room", "model"):
        assert parts[part]["status"] == "ok", parts[part]
    assert "heard 'front plus six'" in parts["recogniser"]["found"]
    assert "USB Microphone" in parts["microphone"]["found"]
    assert "noise -60 dB" in parts["microphone"]["found"]


def test_no_portaudio_hides_nothing_else(tmp_path: Path) -> None:
    def missing() -> SoundLibrary:
        raise DeviceFault("microphone", "PortAudio is missing", "install it")

    parts = _parts(tmp_path, missing)
    for part in ("speaker", "microphone"):
        assert parts[part]["status"] == "missing"
        assert parts[part]["remedy"] == "install it"
    assert parts["voice"]["status"] == parts["recogniser"]["status"] == "ok"
    assert "room" not in parts


def test_no_devices_and_a_broken_recogniser(tmp_path: Path) -> None:
    parts = _parts(tmp_path, StandInLibrary, _broken)
    assert parts["microphone"]["found"] == "there is no microphone"
    assert parts["speaker"]["found"] == "there is no speaker"
    assert parts["recogniser"]["status"] == "missing"
    assert parts["recogniser"]["found"] == "the model's folder is empty"


def test_a_recogniser_that_hears_something_else(tmp_path: Path) -> None:
    sample = (np.zeros(16_000, np.int16), "right minus two")
    parts = _parts(tmp_path, StandInLibrary, sample=lambda: sample)
    assert parts["recogniser"]["status"] == "note"
    assert (
        "heard 'front plus six' in a recording of 'right minus two'"
        in (parts["recogniser"]["found"])
    )


def test_a_muted_microphone(tmp_path: Path) -> None:
    library = StandInLibrary(MIC, OUT)
    with _running(library, np.zeros(16_000, np.int16)):
        parts = _parts(tmp_path, lambda: library)
    assert parts["microphone"]["status"] == "missing"
    assert "nothing but zeros" in parts["microphone"]["found"]


def test_printed_lines_and_no_record(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    wanted = Wanted(
        tmp_path / "file" / "jobs.db", _Deaf, verify, open_library=StandInLibrary, listen_s=0.1
    )
    out = io.StringIO()
    assert run_check(wanted, io.StringIO(), out) == 1
    text = out.getvalue()
    assert "missing record" in text
    assert "-> give another place with --db FILE" in text
    assert text.endswith("No job can be done here: it could not be kept.\n")


@pytest.mark.parametrize("name", ["jobs.db", "new/folder/jobs.db"])
def test_where_jobs_can_be_kept(tmp_path: Path, name: str) -> None:
    assert look_at_record(tmp_path / name).status == "ok"
    assert not list(tmp_path.iterdir())


def test_where_they_cannot(tmp_path: Path) -> None:
    assert look_at_record(tmp_path).status == "missing"
    (tmp_path / "file").touch()
    assert look_at_record(tmp_path / "file" / "x.db").status == "missing"
    assert look_at_record(tmp_path / "file").status == "ok"


def test_what_is_in_the_record_is_looked_at_and_nothing_left_behind(tmp_path: Path) -> None:
    path = tmp_path / "jobs.db"
    record(path, rehearsed(1).events)
    lock_path(path).unlink()
    whole = path.read_bytes()
    foreign = b"GIF89a" + bytes(5_000)
    for content, status, found in (
        (whole, "ok", "is there, 1 jobs"), (b"", "ok", "will be made"),
        (whole[:4096] + bytes(4096) + whole[8192:], "note", "is damaged"),
        (foreign, "missing", "is not a record of jobs"),
    ):  # fmt: skip
        path.write_bytes(content)
        looked = look_at_record(path)
        assert (looked.status, path.read_bytes()) == (status, content)
        assert found in looked.found
        assert [file.name for file in tmp_path.iterdir()] == ["jobs.db"]
    assert "keeps nothing" in look_at_record(Path(":memory:")).found


def test_the_ways_that_are_left() -> None:
    record, ears = Finding("record", "ok", ""), Finding("recogniser", "ok", "")
    mic, keypad = Finding("microphone", "note", ""), Finding("keypad", "note", "")
    assert summary([record, ears, mic, keypad]) == (
        "A job can be done here by voice, typed words, with printed answers."
    )
    assert "keypad" in summary([record, Finding("keypad", "ok", "")])
    assert "keypad" in summary([record, Finding("terminal", "note", "")])
    assert "spoken answers" in summary(
        [record, Finding("speaker", "ok", ""), Finding("voice", "ok", "")]
    )


def test_no_terminal() -> None:
    assert look_at_terminal(io.StringIO(), io.StringIO()).status == "missing"


# -- the room --------------------------------------------------------------------------------


def test_levels_are_what_they_are() -> None:
    room = measure(_noise(-50.0))
    assert room.noise_db == pytest.approx(-50.0, abs=0.2)
    assert room.floor_db == pytest.approx(-50.5, abs=0.8)
    assert room.clipped == 0.0
    sine = np.asarray(16384 * np.sin(np.arange(16_000) / 10), np.int16)
    assert measure(sine).peak_db == pytest.approx(-6.02, abs=0.01)
    assert measure(np.full(16_000, 32_767, np.int16)).clipped == 1.0


@pytest.mark.parametrize(
    ("room", "status", "said"),
    [
        (Room(-100, -100, -90.3, 0), "missing", "nothing but zeros"),
        (Room(-20, -30, 0, 0.01), "note", "overloaded"),
        (Room(-55, -56, -40, 0), "ok", "noise -55 dB"),
    ],
)
def test_levels_in_words(room: Room, status: str, said: str) -> None:
    told, found, remedy = describe_levels(room)
    assert told == status
    assert said in found
    assert bool(remedy) == (status != "ok")


def test_louder_rooms_are_never_called_better() -> None:
    order = [describe_room(Room(level, level, level, 0))[1] for level in range(-90, 0, 2)]
    assert [text for at, text in enumerate(order) if text not in order[:at]] == [
        "quiet enough: calls are heard as they are",
        "noisy: more calls will be asked again",
        "too loud to call readings",
    ]
    assert order == sorted(order, key=order.index)


# -- the person's voice ----------------------------------------------------------------------


class _Player:
    """Blocks of a recording, as a microphone would give them, and a clock that they move."""

    def __init__(self, sound: Samples) -> None:
        self._sound, self.now = sound, 0.0

    def read(self, timeout_s: float) -> Block | None:
        del timeout_s
        block, self._sound = self._sound[:480], self._sound[480:]
        self.now += 0.03
        return Block(block, self.now, False, -40.0) if len(block) else None


def test_recorded_phrases_are_understood() -> None:
    """The whole way: recorded speech through the real endpointer and recogniser."""
    bank = SpeechBank(voices()[0])
    parts = [part for words in PHRASES for part in (bank.say(words), bank.quiet(0.9))]
    player = _Player(np.concatenate([bank.quiet(0.5), *parts]))
    out = io.StringIO()
    trial = SpokenTrial(player, Ears(PocketSphinx(), verify), out, clock=lambda: player.now)
    status, found, _ = trial.run()
    assert out.getvalue().count("Say: ") == len(PHRASES)
    assert "phrases understood" in found
    assert int(found.split()[0]) >= len(PHRASES) - 1, out.getvalue()
    assert status in ("ok", "note")


def test_nobody_speaks() -> None:
    player = _Player(np.zeros(0, np.int16))
    out = io.StringIO()
    trial = SpokenTrial(player, Ears(_Deaf(), verify), out, clock=lambda: player.now)
    assert trial.run() == (
        "note", "no phrase was heard", "speak up, or move the microphone nearer"
    )  # fmt: skip
    assert out.getvalue().count("heard nothing") == len(PHRASES)


def _heard(words: str, snr_db: float, outcome: Decision = "accept") -> Utterance:
    return Utterance(0, 1, outcome, words, Unclear(words), 1.0, 0.1, (), snr_db)


@pytest.mark.parametrize(
    ("words", "snr_db", "status", "helps"),
    [
        ("front plus six", 30.0, "ok", ""),
        ("front plus", 30.0, "note", "speak evenly"),
        ("front plus", 15.0, "note", "nearer"),
        ("front plus six", 5.0, "note", "headset"),
    ],
)
def test_what_helps(words: str, snr_db: float, status: str, helps: str) -> None:
    told, found, remedy = verdict([("front plus six", _heard(words, snr_db))])
    assert told == status
    assert f"{snr_db:.0f} dB" in found
    assert helps in remedy


def test_a_voice_that_is_asked_about_often_is_told_so() -> None:
    few = [(phrase, _heard(phrase, 30.0)) for phrase in PHRASES]
    few[0] = (PHRASES[0], _heard(PHRASES[0], 30.0, "ask"))
    told, found, remedy = verdict([*few])
    assert (told, remedy) == ("ok", "")
    assert f"{len(PHRASES)} of {len(PHRASES)} phrases understood, 1 not surely" in found
    told, found, remedy = verdict([(phrase, _heard(phrase, 30.0, "ask")) for phrase in PHRASES])
    assert told == "note"
    assert "learns your voice" in remedy
    assert "nearer" in verdict([(phrase, _heard(phrase, 15.0, "ask")) for phrase in PHRASES])[2]


def test_the_phrases_belong_to_the_grammar() -> None:
    offer = everything(Scale())
    assert all(offer.allows(parse(phrase, Scale())) for phrase in PHRASES)


def test_machines_that_can_be_chosen_and_what_to_do_about_the_others() -> None:
    none = look_at_machines((), ())
    assert (none.status, none.found) == ("note", "none yet")
    assert "sweepsay run" in none.remedy
    assert look_at_machines(("mill", "drill"), ()).found == "mill, drill"
    bad = look_at_machines(("mill",), ("bad.toml, line 2: name: write 1 to 80 letters",))
    assert bad.status == "note"
    assert "line 2" in bad.found
    assert "mill" in bad.found


def _no_library() -> SoundLibrary:
    raise DeviceFault("speaker", "no library", "install one")


def _deaf_room(tmp_path: Path) -> dict[str, str]:
    library = StandInLibrary(MIC, OUT)
    with _running(library, np.zeros(16_000, np.int16)):
        return _tried(tmp_path, lambda: library)


def _tried(
    tmp_path: Path,
    open_library: Callable[[], SoundLibrary],
    make: Callable[[], _Deaf] = _Deaf,
    *,
    as_json: bool = False,
) -> dict[str, str]:
    wanted = Wanted(
        tmp_path / "jobs.db", make, verify, listen_s=0.5, open_library=open_library, trial=True
    )
    out = io.StringIO()
    run_check(wanted, io.StringIO(), out, as_json=as_json)
    if as_json:
        parts = json.loads(out.getvalue())["parts"]
        return {row["part"]: f"{row['found']} -> {row['remedy']}" for row in parts}
    lines = out.getvalue().replace("\n" + " " * 20, " ").splitlines()
    return {line[8:20].strip(): line[20:] for line in lines}


def test_a_trial_that_cannot_be_made_says_so(tmp_path: Path) -> None:
    """Whoever asks for it and hears nothing of it believes that all is well."""
    again = "see to what is missing above, then sweepsay check --try again"
    no_ears = f"not tried: no microphone that hears -> {again}"
    assert _tried(tmp_path, _no_library)["your voice"] == no_ears
    assert _deaf_room(tmp_path)["your voice"] == no_ears
    silent = _tried(tmp_path, _no_library, _broken)["your voice"]
    assert silent == f"not tried: no recogniser -> {again}"
    told = _tried(tmp_path, _no_library, as_json=True)["your voice"]
    assert told == "not tried: --json asks nobody -> leave --json out"
    assert "your voice" not in _parts(tmp_path, _no_library)
