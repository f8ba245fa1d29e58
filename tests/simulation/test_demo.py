"""The demo: contract, files, and that nothing but sound reaches the dialogue."""

import io
import json
import random
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.commands.demo import run_demo
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.hearing import Ears, Utterance
from assistant.devices.ears.verify import verify
from assistant.dialogue.messages import Listen
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer
from assistant.records.journal.journal import Journal
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.sound_carrier import SoundCarrier
from assistant.simulation.soundtrack import QuietRoom, Soundtrack
from assistant.simulation.speech import RATE, Samples, SpeechBank
from grammar.meaning import Command, Reading
from grammar.scale import Scale
from tests.played_demo import PlayedDemo

KEYS = {
    "seed", "as_found", "as_left", "true_as_left", "unit", "sweeps", "utterances", "misheard",
    "asked", "committed_wrong", "wav", "report", "job",
}  # fmt: skip


def _run(seed: int, out: Path, *, as_json: bool = True) -> tuple[int, str, str]:
    stdout, stderr = io.StringIO(), io.StringIO()
    code = run_demo(seed, out, as_json=as_json, stdout=stdout, stderr=stderr)
    return code, stdout.getvalue(), stderr.getvalue()


@pytest.fixture(scope="module")
def played(demo: PlayedDemo) -> tuple[Path, dict[str, object]]:
    """Its folder and its figures."""
    assert demo.done.returncode == 0, demo.done.stderr
    assert demo.done.stderr == b""
    figures: dict[str, object] = json.loads(demo.done.stdout)
    assert figures["seed"] == demo.seed
    return demo.out, figures


def test_the_figures_are_as_contracted(played: tuple[Path, dict[str, object]]) -> None:
    _, figures = played
    assert set(figures) >= KEYS
    assert figures["unit"] == "thou"
    for name in ("as_found", "as_left", "true_as_left"):
        row = figures[name]
        assert isinstance(row, dict)
        assert set(row) == {"front_minus_back", "right_minus_left", "tilt"}
        assert row["tilt"] == pytest.approx(
            (row["front_minus_back"] ** 2 + row["right_minus_left"] ** 2) ** 0.5, abs=2e-3
        )


def test_the_machine_ends_truly_square_without_a_wrong_reading(
    played: tuple[Path, dict[str, object]],
) -> None:
    _, figures = played
    found, left = figures["as_found"], figures["true_as_left"]
    assert isinstance(found, dict)
    assert isinstance(left, dict)
    assert found["tilt"] > 4
    assert left["tilt"] <= 4
    assert figures["committed_wrong"] == 0


def test_the_conversation_can_be_listened_to(played: tuple[Path, dict[str, object]]) -> None:
    _, figures = played
    sound, rate = soundfile.read(str(figures["wav"]), dtype="float32", always_2d=True)
    assert rate >= 16_000
    assert 60 < len(sound) / rate < 600
    assert 0.05 < np.max(np.abs(sound)) < 1.0
    # The two stand apart: neither channel is silent, nor are they the same.
    left, right = sound[:, 0], sound[:, 1]
    assert np.std(left) > 0.001
    assert np.std(right) > 0.001
    assert np.std(left - right) > 0.001
    # Somebody speaks for a good part of the time, and there are pauses.
    spans = np.abs(sound[:, 0][: len(sound) // rate * rate]).reshape(-1, rate // 10).max(axis=1)
    assert 0.3 < float(np.mean(spans > 0.02)) < 0.95


def test_the_files_are_a_job_like_any_other(played: tuple[Path, dict[str, object]]) -> None:
    out, figures = played
    assert sorted(path.name for path in out.iterdir()) == [
        "conversation.wav", "job.db", "job.json", "report.html",
    ]  # fmt: skip
    job = json.loads(Path(str(figures["job"])).read_text(encoding="utf-8"))
    assert job["finished"] is True
    assert len(job["sweeps"]) == figures["sweeps"]
    voices = {row["source"] for row in job["readings"]}
    assert voices == {"voice"}
    assert "<html" in Path(str(figures["report"])).read_text(encoding="utf-8")
    with Journal.open(out / "job.db", write=False) as journal:
        (row,) = journal.jobs()
        assert row.closed_at is not None
        heard = [event for event in journal.events(row.id) if type(event).__name__ == "Heard"]
    assert len(heard) <= int(str(figures["utterances"]))


def test_a_record_that_is_no_demos_is_not_replaced(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "job.db") as journal:
        journal.start("mine", "drill press", "2026-01-05T09:00:00Z")
    before = (tmp_path / "job.db").read_bytes()
    code, printed, complaint = _run(1, tmp_path)
    assert (code, printed) == (1, "")
    assert complaint.count("\n") == 1
    assert "is not a demo's; choose another folder with --out" in complaint
    assert (tmp_path / "job.db").read_bytes() == before


def test_a_file_where_the_folder_should_be_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine", encoding="utf-8")
    code, printed, complaint = _run(1, tmp_path / "taken")
    assert (code, printed) == (1, "")
    assert complaint.count("\n") == 1
    assert "choose another with --out" in complaint
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "mine"


class Mouth(SpeechBank):
    """Says something else than it is told, or nothing."""

    def __init__(self, instead: str) -> None:
        super().__init__("slt")
        self._instead = instead

    def say(self, words: str) -> Samples:
        del words
        if not self._instead:
            return np.zeros(RATE, np.int16)
        return super().say(self._instead)


def _carried(mouth: SpeechBank, words: str, phase: Phase) -> tuple[list[object], list[object]]:
    clock = SimulatedClock()
    room = QuietRoom(1)
    told: list[object] = []

    def note(at_s: float, called: str, heard: Utterance | None) -> None:
        told.append((at_s > 0, called, heard is not None))

    carrier = SoundCarrier(
        mouth, Ears(PocketSphinx(), verify), Soundtrack(clock, room), room, random.Random(1), note
    )
    scale = Scale("thou", 30, Decimal("0.5"))
    listen = Listen(1, phase, None, offer(phase, scale))
    return [event.meaning for event in carrier.carry(words, listen)], told


def test_silence_carries_nothing() -> None:
    heard, told = _carried(Mouth(""), "plus six", Sweeping.SWEEP)
    assert heard == []
    assert told == [(True, "plus six", False)]


def test_what_is_heard_is_the_sound_and_not_the_words() -> None:
    heard, _ = _carried(Mouth("plus seven"), "minus four", Sweeping.SWEEP)
    assert heard == [Reading(Decimal(7), True)]
    heard, _ = _carried(Mouth("yes"), "no", Safety.UNPLUGGED)
    assert heard == [Command("yes")]
