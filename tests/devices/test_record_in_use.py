"""A record that cannot be used is spoken of, since nobody at the machine reads the screen."""

import io
import threading
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt
import pytest

from assistant.bench.session import run_live
from assistant.bench.typed_job import run_typed
from assistant.bench.wishes import Surroundings, VoiceKind, Wishes
from assistant.devices.ears.hearing import Recogniser
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.voice.speech_engine import Speech, VoiceSettings
from assistant.devices.voice.synthesis import Voice, sentences
from assistant.dialogue import wording
from assistant.dialogue.machine import Profile
from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from grammar.vocabulary import TABLE
from tests.devices.sound_stand_in import OUT, StandInLibrary
from tests.devices.stand_in_bench import LIMIT_S, PATIENCE


class LoudEngine:
    """Every sentence to a tenth of a second of one level."""

    def __init__(self) -> None:
        self.spoken: list[str] = []

    def synthesise(self, text: str, _settings: VoiceSettings) -> Speech:
        self.spoken.append(text)
        return Speech(np.full(4_800, 700, np.int16), 48_000)


class Refused:
    """The command ``run`` on a record that cannot be used, and a speaker that plays."""

    def __init__(self, record: Path, wishes: Wishes, missing: str = "") -> None:
        self.engine = LoudEngine()
        self.library = StandInLibrary(OUT, form=(48_000, 2))
        self.library.refuses = "it is gone" if missing == "speaker" else ""
        self.missing = missing
        self.out = io.StringIO()
        self.code = ""
        self.played: list[npt.NDArray[np.int16]] = []
        around = Surroundings(self._library, self._voice, patience=PATIENCE)
        thread = threading.Thread(target=self._run, args=(record, wishes, around))
        thread.start()
        while thread.is_alive():
            for stream in self.library.streams:
                self.played.append(stream.take(480))
            thread.join(0.01)

    @property
    def spoken(self) -> list[str]:
        """What was spoken beside the word by which a voice is tried."""
        return [text for text in self.engine.spoken if text != "zero"]

    def _library(self, kind: Literal["microphone", "speaker"]) -> StandInLibrary:
        assert kind == "speaker"
        return self.library

    def _voice(self, settings: VoiceSettings) -> Voice:
        if self.missing == "voice":
            raise DeviceFault("voice", "there is no library", "install one")
        return Voice(settings, engine=self.engine, limit_s=LIMIT_S)

    def _run(self, record: Path, wishes: Wishes, around: Surroundings) -> None:
        try:
            run_live(
                Profile(), record, wishes, _no_ears, stdin=io.StringIO(), stdout=self.out,
                stderr=io.StringIO(), surroundings=around,
            )  # fmt: skip
        except RecordError as error:
            self.code = error.code


def _no_ears() -> Recogniser:
    raise AssertionError("there is no job to listen in")


def _wishes(voice: VoiceKind = "speaker", *, as_json: bool = False) -> Wishes:
    return Wishes(
        ears="off", voice=voice, keypad=False, as_json=as_json, sound=SoundSettings(headset=True)
    )


@pytest.fixture
def taken(tmp_path: Path) -> Path:
    return tmp_path / "jobs.db"


def test_another_copy_that_has_the_record_is_spoken_of_to_the_end(taken: Path) -> None:
    with Journal.open(taken):
        refused = Refused(taken, _wishes())
    assert refused.code == "locked"
    assert refused.spoken == sentences(wording.RECORD_IN_USE)
    assert refused.out.getvalue() == f"say: {wording.RECORD_IN_USE}\n"
    # All of it came out of the speaker, and then the speaker was closed.
    assert np.count_nonzero(np.concatenate(refused.played) == 700) == 4_800 * len(refused.spoken)
    assert not refused.library.streams[-1].runs


def test_any_other_record_that_cannot_be_used_is_spoken_of_as_well(taken: Path) -> None:
    taken.write_bytes(b"la la la " * 100)
    refused = Refused(taken, _wishes())
    assert refused.code == "not_a_record"
    assert refused.spoken == sentences(wording.CANNOT_GO_ON)


@pytest.mark.parametrize(
    ("wishes", "line"),
    [
        (_wishes("text"), f"say: {wording.RECORD_IN_USE}\n"),
        (_wishes("off"), ""),
        (
            _wishes("text", as_json=True),
            f'{{"effect": "say", "text": "{wording.RECORD_IN_USE}"}}\n',
        ),
    ],
    ids=["as text", "not at all", "as JSON"],
)
def test_without_a_voice_nothing_is_spoken(taken: Path, wishes: Wishes, line: str) -> None:
    with Journal.open(taken):
        refused = Refused(taken, wishes)
    assert (refused.code, refused.spoken) == ("locked", [])
    assert refused.out.getvalue() == line
    assert refused.library.streams == []


@pytest.mark.parametrize(
    ("silent", "as_json", "line"),
    [
        (False, False, f"say: {wording.RECORD_IN_USE}\n"),
        (True, False, ""),
        (False, True, f'{{"effect": "say", "text": "{wording.RECORD_IN_USE}"}}\n'),
    ],
)
def test_the_job_by_typed_words_says_the_same(
    taken: Path, silent: bool, as_json: bool, line: str
) -> None:
    out = io.StringIO()
    with Journal.open(taken), pytest.raises(RecordError) as raised:
        run_typed(
            Profile(), taken, silent=silent, as_json=as_json, stdin=io.StringIO(), stdout=out,
            stderr=io.StringIO(),
        )  # fmt: skip
    assert raised.value.code == "locked"
    assert out.getvalue() == line


@pytest.mark.parametrize("missing", ["voice", "speaker"])
def test_the_reason_is_told_though_voice_or_speaker_is_missing(taken: Path, missing: str) -> None:
    with Journal.open(taken):
        refused = Refused(taken, _wishes(), missing)
    assert refused.code == "locked"
    assert refused.played == []
    assert refused.out.getvalue() == f"say: {wording.RECORD_IN_USE}\n"


def test_the_copy_that_has_the_record_takes_nothing_of_it_for_a_command() -> None:
    """It listens in the same room while the other one speaks."""
    spoken = f"{wording.RECORD_IN_USE} {wording.CANNOT_GO_ON}".lower()
    words = {word.strip(".,:") for word in spoken.split()}
    answers = {phrase for term in TABLE if term.kind == "command" for phrase in term.says}
    assert not answers & words
