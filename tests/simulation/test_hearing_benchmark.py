"""The benchmark counts what it should and its table is well formed; no figure is judged."""

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.stats
import soundfile

from assistant.devices.ears.hearing import Decoded, Limits
from assistant.devices.sound.files import Samples
from assistant.simulation.noise import to_int16
from assistant.simulation.speech import SpeechBank, voices
from grammar.meaning import Command, Hypothesis, Meaning, OffScale, Reading, Unclear
from grammar.offer import Offer, everything
from grammar.parse import parse
from grammar.scale import Scale
from tests.benchmarks import hearing
from tests.benchmarks.detector_benchmark import Stream, cut_up, stream_of
from tests.benchmarks.hearing_clips import FIXTURES, TESTDATA, Clip, clips_of, prose
from tests.benchmarks.hearing_conditions import Condition, condition, telephone_band
from tests.benchmarks.hearing_engines import ENGINES, Take, Taken, WholeEars, made, version_of
from tests.benchmarks.hearing_results import Key, Result, Results, result_of
from tests.benchmarks.hearing_rooms import fft_convolved, in_room, response, reverberation_time
from tests.benchmarks.hearing_tables import below, confusions, costs, table
from tests.benchmarks.hearing_tally import Tally, by_speaker, tallied, wilson
from tests.benchmarks.live_trial import cost_table, latency_table, shortfall
from tests.ears.untaught import Untaught

ROOT = Path(__file__).parents[2]
RATE = 16_000
SECOND = np.zeros(RATE)


TIMED = (
    "import io, json, pathlib, sys; from tests.benchmarks.live_trial import spoken, trial; "
    "said = spoken(); said['locked'] = said['minus seventeen'][::-1]; "
    "told = trial(pathlib.Path(sys.argv[1]), io.StringIO(), said, calls=('plus six',), "
    "commands=2, idle_s=0.1); print(json.dumps(told))"
)
"""The first command is said backwards, which is nobody's word."""


def _timed_call(folder: Path) -> dict[str, Any]:
    """One call in the live loop, in a process whose ears and memory nobody else used."""
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, "-c", TIMED, str(folder)], cwd=ROOT, capture_output=True, text=True,
        check=False, timeout=280,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def _clip(said: str, talk: bool = False, voice: str = "") -> Clip:
    meaning: Meaning = Unclear(said) if talk else parse(said, Scale())
    return Clip(SECOND, Scale(), meaning, 0.8, 0.2, said, voice)


def _result(clip: Clip, *taken: tuple[str, bool]) -> Result:
    heard = tuple(Taken(words, parse(words, Scale()), asked) for words, asked in taken)
    return result_of(clip, Take(heard, (0.1,), 0.2, (1.1,)))


def test_recordings_are_counted_by_what_was_made_of_them() -> None:
    tally = Tally()
    heard: list[tuple[str, list[tuple[str, bool]]]] = [
        ("front plus six", [("front plus six", False)]),
        ("front plus six", [("front plus six thou", False)]),
        ("plus fifteen", [("plus five", False)]),
        ("plus fifteen", [("plus five", True)]),
        ("minus two", [("minus two", True)]),
        ("two", [("two", True)]),
        ("minus two", []),
        ("minus two", [("minus two", False), ("yes", False)]),
        ("stop", [("stop", True)]),
        ("minus two and a half", [("minus two point five", False)]),
        ("plus six", [("plus sixty", True)]),
    ]
    for said, taken in heard:
        clip = _clip(said)
        tally.add(clip, _result(clip, *taken))
    assert (tally.calls, tally.right, tally.rejected, tally.wrong) == (11, 6, 1, 2)
    assert (tally.signed, tally.asked) == (9, 1)
    assert (tally.commands, tally.commands_asked) == (1, 1)
    assert tally.mixed_up[("fifteen", "five")] == 2
    assert tally.tone_s == [pytest.approx(0.3)] * 11


def test_talk_is_counted_apart_and_by_its_length() -> None:
    tally = Tally()
    for taken in ([], [("yes", False)], [("no", True), ("yes", False)]):
        clip = _clip("pass me the rag", talk=True)
        tally.add(clip, _result(clip, *taken))
    assert (tally.calls, tally.talk) == (0, 3)
    assert (tally.talk_accepted, tally.talk_asked) == (2, 1)
    assert (tally.talk_accepts, tally.talk_asks, tally.talk_s) == (2, 1, 3.0)
    assert "400.0 accepted" in below({"quiet": {"ours": tally}})


def test_what_only_lacks_a_sign_is_told_from_what_is_doubtful() -> None:
    tally = Tally()
    for said, sure in (
        ("front six", True), ("front six", False), ("front six", False), ("six", False),
        ("front plus six", False),
    ):  # fmt: skip
        clip = _clip(said)
        taken = Taken(said, parse(said, Scale()), asked=True, sure=sure)
        tally.add(clip, result_of(clip, Take((taken,), (), 0.1)))
    missed = _clip("front eight")
    tally.add(missed, _result(missed))
    assert (tally.unsigned, tally.unsure, tally.signed) == (4, 2, 1)
    assert "2 of 4 (50.0 %)" in below({"quiet": {"ours": tally}})


def test_numbers_off_the_dial_are_a_class_of_their_own() -> None:
    tally = Tally()
    heard: list[tuple[str, list[tuple[str, bool]]]] = [
        ("plus sixty", [("plus sixty", True)]),  # told as such
        ("plus six point nine", [("plus six point five", False)]),  # forced into a neighbour
        ("plus six point nine", [("plus six point nine", False)]),  # kept as it is: forced too
        ("left plus point one", [("left plus one", True)]),
        ("minus forty", []),
    ]
    for said, taken in heard:
        clip = _clip(said)
        assert clip.is_off_dial
        tally.add(clip, _result(clip, *taken))
    assert (tally.calls, tally.off, tally.told, tally.forced) == (0, 5, 1, 2)
    # An engine that has a meaning for it: told, whether anything is said of it or not.
    for told in (False, True):
        clip = _clip("minus forty")
        meaning = OffScale(Decimal(-40), "beyond", signed=True)
        take = Take((Taken("minus forty", meaning, asked=False, told=told),), (), 0.1)
        tally.add(clip, result_of(clip, take))
        for said in ("minus four", "pass me the rag"):
            other = _clip(said, talk=said.startswith("pass"))
            tally.add(other, result_of(other, take))
    assert (tally.off, tally.told, tally.forced) == (7, 3, 2)
    assert (tally.calls, tally.right, tally.wrong, tally.rejected) == (2, 0, 0, 1)
    assert (tally.talk, tally.talk_accepted, tally.talk_asked) == (2, 1, 0)
    assert not _clip("plus six and a half").is_off_dial
    assert not _clip("stop").is_off_dial
    assert not _clip("forty", talk=True).is_off_dial


# R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven
# methods", Statistics in Medicine 17 (1998) 857, table I, method 3 (score); from memory.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718), (29, 29, 0.8830, 1.0),
]  # fmt: skip


@pytest.mark.parametrize(("part", "whole", "low", "high"), NEWCOMBE)
def test_intervals_are_wilsons(part: int, whole: int, low: float, high: float) -> None:
    assert wilson(part, whole) == pytest.approx((low, high), abs=6e-5)
    found = scipy.stats.binomtest(part, whole).proportion_ci(method="wilson")
    assert wilson(part, whole) == pytest.approx((found.low, found.high), abs=1e-9)


def test_speakers_who_differ_make_the_interval_wider() -> None:
    alike = by_speaker([(9, 10)] * 20)
    assert alike == (0.9, 0.9)
    half = by_speaker([(10, 10)] * 10 + [(0, 10)] * 10)
    # Twenty speakers, each all or nothing: the standard error of their mean is 0.5/sqrt(20).
    assert half.low == pytest.approx(0.5 - 1.96 * 0.5 / 20**0.5, abs=0.03)
    assert half.high == pytest.approx(0.5 + 1.96 * 0.5 / 20**0.5, abs=0.03)


def test_the_worst_tenth_are_those_with_calls_enough() -> None:
    pairs = []
    for number in range(20):
        for turn in range(5):
            clip = _clip("plus six", voice=f"v{number}")
            right = number > 1 or turn < 2 * number
            pairs.append((clip, _result(clip, ("plus six" if right else "plus five", False))))
    short = _clip("plus six", voice="once")
    tally = tallied([*pairs, (short, _result(short))])
    assert [name for name, _ in tally.worst()[:2]] == ["v0", "v1"]
    assert "once" not in dict(tally.worst())
    assert tally.worst_tenth() == pytest.approx(2 / 10)
    low, high = tally.right_interval()
    assert low < 92 / 101 < high
    assert "v0 0 of 5, v1 2 of 5\n" in below({"quiet": {"ours": tally}})


def test_the_table_is_as_wide_as_its_heading() -> None:
    clip = _clip("plus fifteen", voice="a")
    wrong, right = (tallied([(clip, _result(clip, (w, False)))]) for w in ("plus six", clip.said))
    tallies = {"quiet": {"ours": right, "other": Tally()}, "band": {"ours": wrong}}
    rows = table(tallies, "people").splitlines()
    assert len({len(row) for row in rows[1:]}) == 1
    assert "other" in rows[0]
    assert "100.0 (21 to 100) >=96 " in rows[2]
    assert "0.0 (0 to 79) >=95!" in rows[3]
    assert confusions(tallies, "other").startswith("nothing")
    mixed_up = confusions(tallies, "ours").splitlines()
    assert mixed_up[1].split() == ["fifteen", "six", "1", "band", "1"]
    assert costs(["ours"], {"ours": "abc"}, tallies).splitlines()[1].split()[:3] == [
        "ours",
        "abc",
        "2",
    ]
    assert ">=97.5" in table({"quiet": {"ours": right}}, "voice")


@pytest.mark.parametrize("text", ["fan:20", "room:0.4:1.5+fan:20", "quiet", "band+level:-20"])
def test_a_condition_is_what_it_is_written_as(text: str) -> None:
    assert str(condition(text)) == text


@pytest.mark.parametrize(
    "text", ["", "fan", "fan:loud", "room:0.4", "sea:20", "fan:20+", "clip:inf"]
)
def test_what_is_no_condition_is_said(text: str) -> None:
    with pytest.raises(ValueError, match=r"no condition '.*': use quiet, fan"):
        condition(text)


def test_conditions_do_what_they_say() -> None:
    times = np.arange(RATE) / RATE
    low, high = (0.3 * np.sin(2 * np.pi * hz * times) for hz in (1_000, 5_000))
    loud = condition("level:-20").apply(low, "a", ())
    assert np.abs(loud).max() == pytest.approx(0.03 * 32767, rel=0.01)
    cut = condition("clip:6").apply(low, "a", ())
    assert np.abs(cut).max() == pytest.approx(0.3 * 0.501 * 32767, rel=0.01)
    assert np.mean(np.abs(cut) == np.abs(cut).max()) > 0.5
    narrow = telephone_band(low + high)
    inside = slice(2_000, -2_000)
    assert np.sqrt(np.mean((narrow - low)[inside] ** 2)) < 0.01
    noisy = condition("fan:10").apply(low, "a", ())
    assert np.array_equal(noisy, condition("fan:10").apply(low, "a", ()))
    assert not np.array_equal(noisy, condition("fan:10").apply(low, "b", ()))
    added = noisy / 32767 - low
    assert 10 * np.log10(np.mean(low**2) / np.mean(added**2)) == pytest.approx(10, abs=0.7)
    assert Condition().apply(low, "a", ())[100] == round(low[100] * 32767)


def test_the_decay_that_is_measured_is_the_one_that_was_made() -> None:
    # ISO 3382-1:2009: noise that decays as exp(-6.9 t/T) has the reverberation time T.
    times = np.arange(RATE) / RATE
    for wanted in (0.25, 0.6):
        decay = np.exp(-3 * np.log(10) * times / wanted)
        hiss = np.random.default_rng(1).standard_normal(RATE) * decay
        assert reverberation_time(hiss) == pytest.approx(wanted, rel=0.05)
        assert reverberation_time(hiss, fall_db=30) == pytest.approx(wanted, rel=0.05)
    with pytest.raises(ValueError, match="does not decay"):
        reverberation_time(np.ones(10))


def test_rooms_have_the_reverberation_time_that_was_asked_for() -> None:
    acoustics = pytest.importorskip("pyroomacoustics", reason="pip install sweepsay[benchmark]")
    for wanted, distance in ((0.25, 0.4), (0.35, 1.5)):
        room = response(wanted, distance)
        assert reverberation_time(room) == pytest.approx(wanted, rel=0.1)
        # The package has a measure of its own, as a second opinion.
        theirs = acoustics.experimental.measure_rt60(room, RATE, decay_db=20)
        assert reverberation_time(room) == pytest.approx(theirs, rel=0.05)
    # The nearer, the more of the sound is direct.
    near, far = (np.sum(response(0.35, metres)[:80] ** 2) for metres in (0.4, 1.5))
    assert near / (1 - near) > 4 * far / (1 - far)
    with pytest.raises(ValueError, match=r"reverberation time of 9 s: use 0.15 to 1.5"):
        response(9, 1)
    with pytest.raises(ValueError, match="5 m away"):
        response(0.3, 5)


def test_sound_in_a_room_keeps_its_level_and_length() -> None:
    pytest.importorskip("pyroomacoustics", reason="pip install sweepsay[benchmark]")
    sound = np.zeros(RATE)
    sound[2_000:6_000] = np.random.default_rng(1).standard_normal(4_000)
    heard = in_room(sound, 0.25, 1.5)
    assert len(heard) == RATE
    assert np.sum(heard**2) == pytest.approx(np.sum(sound**2), rel=1e-6)
    assert np.sum(heard[6_500:] ** 2) > 1e-4 * np.sum(heard**2)
    assert np.allclose(
        fft_convolved(sound[:50], sound[2_000:2_007]), np.convolve(sound[:50], sound[2_000:2_007])
    )


def test_the_repository_and_people_can_be_heard() -> None:
    first = next(clips_of(None))
    assert isinstance(first.meaning, Reading)
    assert first.start_s is not None
    assert first.end_s is not None
    assert 0 < first.start_s < first.end_s < len(first.sound) / RATE
    assert first.synthetic
    assert len(prose()) == (11 if (TESTDATA / "goforward.raw").exists() else 0)
    assert json.loads((FIXTURES / "manifest.json").read_text())["rate"] == RATE


class _Loudness:
    """A detector for sounds that are loud or silent."""

    def probability(self, chunk: "np.typing.NDArray[np.int16]") -> float:
        return float(np.abs(chunk.astype(int)).max() > 1_000)

    def reset(self) -> None:
        pass


def test_cutting_is_compared_with_where_the_voices_are() -> None:
    sound = np.zeros(RATE * 12)
    for begin, end in ((1.0, 2.0), (4.0, 5.0), (8.0, 8.5)):
        sound[round(begin * RATE) : round(end * RATE)] = 0.3
    samples = (sound * 32767).astype(np.int16)
    told = ((1.0, 2.0), (4.0, 6.0), (10.0, 11.0))
    found = cut_up(Stream(sound, told), _Loudness(), samples)
    # Whole; the end is missing; nobody noticed; and what was at 8 s is not a voice.
    assert (found.voices, found.whole, found.clipped, found.missed) == (3, 1, 1, 1)
    assert (found.false_starts, found.split, found.joined) == (1, 0, 0)
    assert found.delays_s[0] == pytest.approx(0.35, abs=0.07)
    both = cut_up(Stream(sound, ((1.0, 1.4), (1.5, 2.0))), _Loudness(), samples)
    assert both.joined == 2
    pieces = cut_up(Stream(sound, ((1.0, 5.0),)), _Loudness(), samples)
    assert (pieces.split, pieces.false_starts) == (1, 1)


def test_a_stream_says_where_its_voices_are() -> None:
    stream = stream_of([_clip("plus six"), _clip("plus two")])
    assert stream.voices == ((1.2, 1.8), (2.2, 2.8))
    assert len(stream.sound) == 3 * RATE


def test_an_engine_hears_a_recording_as_a_job_would() -> None:
    bank = SpeechBank(voices()[0])
    sound = np.concatenate([bank.quiet(0.6), bank.say("front plus six"), bank.quiet(0.6)])
    offer = Offer(Scale(), ("stop", "yes"), readings=True)
    take = made("fallback").hear(sound, offer)
    assert [one.meaning for one in take.taken] == [parse("front plus six", Scale())]
    assert len(take.decode_s) == len(take.ready_s) == 1
    assert take.cpu_s > 0
    assert take.ready_s[0] < len(sound) / RATE + 2


class _Saying(Untaught):
    """A recogniser that makes a command of everything, so likely ours as it is told."""

    name = "saying"

    def __init__(self, ours: float) -> None:
        self._decoded = Decoded((Hypothesis("yes", Command("yes"), 1.0),), "yes", ours)

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        del samples, lead
        return self._decoded


@pytest.mark.parametrize(
    ("ours", "taken"),
    [
        (Limits().ours, [("yes", False)]),
        (Limits().ask, [("yes", True)]),
        (Limits().call, []),
        (Limits().call / 2, []),
    ],
    ids=["accepted", "asked", "turned down", "left as talk"],
)
def test_what_is_turned_down_or_left_as_talk_is_not_taken(
    ours: float, taken: list[tuple[str, bool]]
) -> None:
    clip = next(clips_of(None))
    take = WholeEars(_Saying(ours)).hear(to_int16(clip.sound), everything(Scale()))
    assert [(one.words, one.asked) for one in take.taken] == taken


def test_a_version_changes_with_the_weights(monkeypatch: pytest.MonkeyPatch) -> None:
    before = version_of("fallback")
    assert before == version_of("fallback") != version_of("fallback dictation")
    monkeypatch.setattr("tests.benchmarks.hearing_engines.version", lambda package: f"{package} 99")
    assert version_of("fallback") != before


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three recordings of which one is talk and one off the dial."""
    rows = []
    for number, (said, kind) in enumerate(
        [("front plus six", "call"), ("stop", "talk"), ("minus forty", "call")]
    ):
        sound = 0.1 * np.random.default_rng(number).standard_normal(RATE // 2)
        soundfile.write(tmp_path / f"{number}.flac", sound, RATE)
        rows.append({"file": f"{number}.flac", "said": said, "kind": kind, "voice": "x"})
    (tmp_path / "manifest.jsonl").write_text("\n".join(map(json.dumps, rows)))
    return tmp_path


class _Patient:
    """Hears everything as one thing, and loses patience after so many."""

    heard = 0
    until = 99

    def hear(self, _samples: object, _offer: object) -> Take:
        if self.heard == self.until:
            raise KeyboardInterrupt
        type(self).heard += 1
        return Take((Taken("front plus six", parse("front plus six", Scale()), False),), (), 0.1)


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> type[_Patient]:
    monkeypatch.setattr(hearing, "made", lambda _name: _Patient())
    monkeypatch.setattr(_Patient, "heard", 0)
    return _Patient


def _run(folder: Path, *options: str) -> tuple[int, list[str]]:
    results = folder / "kept.jsonl"
    given = ["--engine", "fallback", "--results", str(results), "--condition", "quiet", "fan:20"]
    code = hearing.main([str(folder), *given, *options])
    return code, results.read_text().splitlines() if results.exists() else []


def test_it_goes_on_where_it_was_stopped(
    folder: Path, patient: type[_Patient], monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setattr(patient, "until", 4)
    code, kept = _run(folder)
    text = capsys.readouterr().out
    assert (code, len(kept)) == (0, 4)
    assert "stopped: what was heard so far; the same command goes on\n" in text
    assert "1 calls on the dial, 1 off it, 1 talk; 1 speakers" in text
    monkeypatch.setattr(patient, "until", 99)
    # A line that was being written when the machine went down is heard again.
    (folder / "kept.jsonl").write_text("\n".join(kept)[:-9])
    _, kept = _run(folder)
    assert (len(kept), patient.heard) == (6, 7)
    assert "\nfan:20 " in capsys.readouterr().out
    _run(folder)
    assert patient.heard == 7
    monkeypatch.setattr(hearing, "version_of", lambda _name: "newer")
    _run(folder, "--table")
    assert patient.heard == 7
    assert "nothing was heard yet" in capsys.readouterr().out
    _run(folder)
    assert patient.heard == 13


def test_the_time_that_is_given_is_kept(
    folder: Path, patient: type[_Patient], capsys: pytest.CaptureFixture[str]
) -> None:
    _, kept = _run(folder, "--minutes", "1e-9")
    assert (kept, patient.heard) == ([], 0)
    assert "stopped" in capsys.readouterr().out


def test_a_damaged_file_of_results_is_said(tmp_path: Path) -> None:
    path = tmp_path / "kept.jsonl"
    path.write_text('{"clip": 1}\n')
    with pytest.raises(ValueError, match=r"line 1 of .* is damaged: delete that file"):
        Results(path)


def test_results_are_read_as_they_were_written(tmp_path: Path) -> None:
    clip = _clip("plus forty")
    key = Key("a", "quiet", "", "any", "ours", "1")
    Results(tmp_path / "deep" / "kept.jsonl").keep(key, _result(clip, ("plus forty", True)))
    found = Results(tmp_path / "deep" / "kept.jsonl").find(key)
    assert found == _result(clip, ("plus forty", True))
    assert found is not None
    assert found.made[0].off_dial


def test_what_cannot_be_used_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert hearing.main([str(tmp_path)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "manifest.jsonl" in told.err
    with pytest.raises(SystemExit) as left:
        hearing.main(["--condition", "sea:3"])
    assert left.value.code == 2


def test_every_engine_has_a_version() -> None:
    assert len({version_of(name) for name in ENGINES}) == len(ENGINES)


def test_the_live_loop_is_timed_stage_by_stage(tmp_path: Path) -> None:
    told = _timed_call(tmp_path / "first")
    for again in ("second", "third"):
        # A block that a busy machine brings late makes a call that lacks sound: that is answered.
        if not told["unanswered"]:
            told = _timed_call(tmp_path / again)
    assert told["fault"] == ""
    assert told["unanswered"] == ["locked"]
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
    assert shortfall(told) == "taken for talk: locked\n"
