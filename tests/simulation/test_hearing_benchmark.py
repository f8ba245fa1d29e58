"""The benchmark counts what it should and its tables are well formed; no figure is judged."""

import io
import json
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from assistant.devices.pocketsphinx_ears import PocketSphinx
from assistant.simulation.speech import SpeechBank, voices
from grammar.meaning import Meaning, Reading, Unclear
from grammar.offer import everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.benchmarks import hearing_benchmark
from tests.benchmarks.detector_benchmark import Stream, cut_up, stream_of
from tests.benchmarks.hearing_benchmark import main, run_benchmark
from tests.benchmarks.hearing_clips import (
    FIXTURES,
    TESTDATA,
    Clip,
    clips_of,
    in_noise,
    prose,
)
from tests.benchmarks.hearing_contestants import Take, Taken, WholeEars
from tests.benchmarks.hearing_tables import (
    CLEAN,
    Condition,
    confusions,
    heading,
    line,
    side_by_side,
)
from tests.benchmarks.hearing_tally import Tally
from tests.benchmarks.learning_benchmark import FIRST, learning_lines
from tests.benchmarks.live_trial import cost_table, latency_table

SECOND = np.zeros(16_000)


@pytest.fixture(scope="module")
def recogniser() -> PocketSphinx:
    return PocketSphinx()


def _clip(said: str, talk: bool = False) -> Clip:
    meaning: Meaning = Unclear(said) if talk else parse(said, Scale())
    return Clip(SECOND, Scale(), meaning, 0.8, 0.2, said)


def _take(*taken: tuple[str, bool]) -> Take:
    return Take(
        tuple(Taken(words, parse(words, Scale()), asked) for words, asked in taken), (0.1,), 0.2
    )


def test_recordings_are_counted_by_what_was_made_of_them() -> None:
    tally = Tally()
    for said, take in [
        ("front plus six", _take(("front plus six", False))),
        ("front plus six", _take(("front plus six thou", False))),
        ("plus fifteen", _take(("plus fifty", False))),
        ("plus fifteen", _take(("plus five", True))),
        ("minus two", _take(("minus two", True))),
        ("two", _take(("two", True))),
        ("minus two", _take()),
        ("minus two", _take(("minus two", False), ("yes", False))),
    ]:
        tally.add(_clip(said), take)
    for take in (_take(), _take(("yes", False)), _take(("no", True))):
        tally.add(_clip("pass me the rag", talk=True), take)
    # "Plus fifty" is beyond the dial, so it means nothing: nobody took it for a reading.
    assert (tally.calls, tally.right, tally.rejected) == (8, 4, 1)
    assert (tally.wrong, tally.asked, tally.signed) == (2, 1, 7)
    assert (tally.talk, tally.talk_accepted, tally.talk_asked) == (3, 1, 1)
    assert tally.talk_accepted_per_10_min == pytest.approx(1 * 600 / 3)
    assert tally.mixed_up[("fifteen", "five")] == 1
    assert tally.cpu_s / tally.sound_s == pytest.approx(0.2)


def test_the_lines_are_as_wide_as_their_heading() -> None:
    tally = Tally()
    tally.add(_clip("plus fifteen"), _take(("plus thirteen", False)))
    above = heading()
    for condition in (CLEAN, Condition("fan", 20.0), Condition("babble", 5.0)):
        assert len(line(condition, tally)) == len(above)
    assert "0.0 >=97!" in line(CLEAN, tally)
    results = {(CLEAN, "ours"): tally, (CLEAN, "other"): Tally()}
    rows = side_by_side(results, ["ours", "other"]).splitlines()
    assert len({len(row) for row in rows}) == 1
    assert "fifteen" in confusions(results, "ours").splitlines()[1]
    assert confusions(results, "other").startswith("nothing")


def test_the_repository_and_people_can_be_heard() -> None:
    clips = clips_of(None)
    first = next(clips)
    assert isinstance(first.meaning, Reading)
    assert first.start_s is not None
    assert first.end_s is not None
    assert 0 < first.start_s < first.end_s < len(first.sound) / 16_000
    assert len(prose()) == (11 if (TESTDATA / "goforward.raw").exists() else 0)
    assert json.loads((FIXTURES / "manifest.json").read_text())["rate"] == 16_000


class _Loudness:
    """A detector for sounds that are loud or silent."""

    def probability(self, chunk: "np.typing.NDArray[np.int16]") -> float:
        return float(np.abs(chunk.astype(int)).max() > 1_000)

    def reset(self) -> None:
        pass


def test_cutting_is_compared_with_where_the_voices_are() -> None:
    sound = np.zeros(16_000 * 12)
    for begin, end in ((1.0, 2.0), (4.0, 5.0), (8.0, 8.5)):
        sound[round(begin * 16_000) : round(end * 16_000)] = 0.3
    told = ((1.0, 2.0), (4.0, 6.0), (10.0, 11.0))
    found = cut_up(Stream(sound, told), _Loudness(), sound)
    # Whole; the end is missing; nobody noticed; and what was at 8 s is no voice.
    assert (found.voices, found.whole, found.clipped, found.missed) == (3, 1, 1, 1)
    assert (found.false_starts, found.split, found.joined) == (1, 0, 0)
    assert found.delays_s[0] == pytest.approx(0.35, abs=0.07)
    both = cut_up(Stream(sound, ((1.0, 1.4), (1.5, 2.0))), _Loudness(), sound)
    assert both.joined == 2
    pieces = cut_up(Stream(sound, ((1.0, 5.0),)), _Loudness(), sound)
    assert (pieces.split, pieces.false_starts) == (1, 1)


def test_a_voice_is_measured_as_a_stranger_and_as_known() -> None:
    clips = [clip for clip in clips_of(None) if clip.voice == "rms"][: FIRST + 1]
    talk = _clip("pass me the rag", talk=True)
    above, row = learning_lines([*clips, talk], [CLEAN], (), "any")
    assert "asked" in above.splitlines()[0]
    assert above.splitlines()[1].split() == ["stranger", "known"] * 3
    counts = row.split()
    assert counts[:2] == ["clean", "1"]
    assert all(0 <= float(figure) <= 100 for figure in counts[2:])
    assert len(counts) == 8
    (told,) = learning_lines(clips[:FIRST], [CLEAN], (), "any")
    assert "no voice has more than" in told


def test_ears_that_learn_are_told_who_is_new(recogniser: PocketSphinx) -> None:
    clip = next(clips_of(None))
    samples, offer = in_noise(clip.sound, None, 0.0, 0, ()), everything(clip.scale)
    known = WholeEars(recogniser, "known", learns=True)
    for _ in range(2):
        take = known.hear(samples, offer)
        assert take.ready_s[0] < len(samples) / 16_000 + 0.5
    learnt = recogniser.person
    assert learnt.lessons.frames > 0
    known.forget()
    known.hear(samples, offer)
    assert recogniser.person.lessons.frames < learnt.lessons.frames
    WholeEars(recogniser, "stranger").hear(samples, offer)
    assert recogniser.person.lessons.frames < learnt.lessons.frames


def test_a_stream_says_where_its_voices_are() -> None:
    stream = stream_of([_clip("plus six"), _clip("plus two")])
    assert stream.voices == ((1.2, 1.8), (2.2, 2.8))
    assert len(stream.sound) == 3 * 16_000


def test_a_folder_of_recordings_gives_every_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hearing_benchmark, "prose", list)
    rows = []
    for number, (said, kind) in enumerate([("front plus six", "reading"), ("stop", "talk")]):
        bank = SpeechBank(voices()[number])
        sound = np.concatenate([bank.quiet(0.6), bank.say(said), bank.quiet(0.6)])
        soundfile.write(tmp_path / f"{number}.flac", sound, 16_000)
        end = len(sound) / 16_000 - 0.6
        rows.append({"file": f"{number}.flac", "said": said, "kind": kind, "end_s": end,
                     "start_s": 0.6})  # fmt: skip
    (tmp_path / "manifest.jsonl").write_text("\n".join(map(json.dumps, rows)))
    out = io.StringIO()
    code = run_benchmark(
        tmp_path, every=1, out=out, noises=["fan"], ratios=[20.0], expect="reading",
        parts=("hearing", "detectors"), talk=tmp_path / "1.flac",
    )  # fmt: skip
    assert code == 0
    text = out.getvalue()
    assert "1 calls and 1 talk of the recordings" in text
    for part in ("our ears", "side by side", "mixed up (ours)", "voice detectors"):
        assert f"\n{part}" in text
    assert text.count("\nclean ") == text.count("\nfan 20 dB ") == 4
    assert "continuous talk: " in text


def test_what_cannot_be_used_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(tmp_path)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "manifest.jsonl" in told.err


ONE_CALL = (
    "import io, json, pathlib, sys; from tests.benchmarks.live_trial import trial; "
    "told = trial(pathlib.Path(sys.argv[1]), io.StringIO(), calls=('plus six',), commands=1, "
    "idle_s=0.1); "
    "print(json.dumps(told))"
)


def _trial_of_its_own(folder: Path) -> dict[str, Any]:
    """As the benchmark does it: a process whose voice and ears nobody else has used."""
    done = subprocess.run(
        [sys.executable, "-c", ONE_CALL, str(folder)],
        capture_output=True, text=True, timeout=300, check=True,
    )  # fmt: skip
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def test_the_live_loop_is_timed_stage_by_stage(tmp_path: Path) -> None:
    told = _trial_of_its_own(tmp_path)
    assert told["fault"] == ""
    assert set(told["cpu"]) == {"idle", "speech"}
    *commands, stages = told["rounds"]
    assert len(commands) == 1
    assert all("tone, commands" in each for each in commands)
    assert "tone, readings without" in stages
    assert 0 < stages["end suspected"] < stages["sure that it ended"]
    assert stages["sure that it ended"] < stages["END OF SPEECH TO TONE"]
    assert stages["END OF SPEECH TO TONE"] < stages["END OF SPEECH TO VOICE"]
    assert told["peak_mb"] > 10
    # The stages that follow each other add up to the whole.
    parts = ("sure that it ended", "recorded and stepped", "speaker takes the tone")
    assert sum(stages[part] for part in parts) == pytest.approx(
        stages["END OF SPEECH TO TONE"], abs=0.05
    )
    assert "END OF SPEECH TO TONE" in latency_table(told["rounds"])
    assert "most memory" in cost_table(told, 1.0)


def test_values_are_what_is_compared_not_words() -> None:
    tally = Tally()
    tally.add(_clip("minus two and a half"), _take(("minus two point five", False)))
    assert tally.right == 1
    assert parse("minus two and a half", Scale()) == Reading(Decimal("-2.5"), signed=True)


class _Interrupted:
    """Somebody loses patience in the middle of the second condition."""

    name = "ours"
    heard = 0

    def hear(self, _samples: object, _offer: object) -> Take:
        self.heard += 1
        if self.heard == 4:
            raise KeyboardInterrupt
        return _take(("front plus six", False))


def test_a_benchmark_that_is_stopped_shows_what_it_has(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hearing_benchmark, "contestants", lambda: ([_Interrupted()], ""))
    monkeypatch.setattr(hearing_benchmark, "prose", list)
    clips = [_clip("front plus six"), _clip("front plus six")]
    clips = [replace(clip, sound=np.full(16_000, 0.1)) for clip in clips]
    monkeypatch.setattr(hearing_benchmark, "clips_of", lambda _folder: clips)
    out = io.StringIO()
    assert run_benchmark(None, every=1, out=out, noises=["fan"], parts=("hearing",)) == 0
    text = out.getvalue()
    assert "stopped: what was heard so far\n" in text
    assert text.count("\nclean ") == 2
    assert "\nfan 20 dB" not in text
