"""Whatever fails or hangs at the bench is told once, the rest carries on, and it may come back."""

import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from assistant.devices.ears import listener as listener_module
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.lifeline import Lifeline
from assistant.dialogue import wording
from assistant.dialogue.messages import Heard, KeyPressed
from assistant.dialogue.procedures import safety
from assistant.records.journal.journal import Journal
from tests.devices.sound_stand_in import MIC, StandInLibrary
from tests.devices.stand_in_bench import LIMIT_S, StandInBench


@pytest.fixture
def stand_in(tmp_path: Path) -> StandInBench:
    return StandInBench(tmp_path)


def _goes_on(stand_in: StandInBench) -> None:
    """The job still takes a key: the first question is answered with yes."""
    phase = stand_in.bench.loop.state
    assert phase is not None
    turn = phase.turn
    stand_in.bench.key("enter")
    while not isinstance(stand_in.next(), KeyPressed):
        pass
    assert stand_in.bench.loop.state is not None
    assert stand_in.bench.loop.state.turn == turn + 1


def test_a_call_is_heard_and_kept_without_its_sound(stand_in: StandInBench) -> None:
    with stand_in.running():
        stand_in.talk()
        heard = stand_in.next()
        assert isinstance(heard, Heard)
        assert heard.words == "yes"
    assert sorted(path.name for path in stand_in.record.parent.iterdir()) == [
        "jobs.db", "jobs.db.lock",
    ]  # fmt: skip


def test_the_keypad_has_a_talk_key(stand_in: StandInBench) -> None:
    def press() -> None:
        for key in ("/", "6"):
            stand_in.bench.key(key)
            assert isinstance(stand_in.next(), KeyPressed)
        stand_in.wait_armed()

    with stand_in.running():
        press()
        stand_in.microphone.streams[-1].deliver(np.full(16_000, 800, np.int16))
        stand_in.drained()
        press()
        heard = stand_in.next()
        assert isinstance(heard, Heard)
        assert (heard.source, heard.words) == ("voice", "yes")
        assert stand_in.bench.loop.state is not None
        assert stand_in.bench.loop.state.entry == ""


def test_a_microphone_that_is_pulled_out_is_told_and_comes_back(stand_in: StandInBench) -> None:
    with stand_in.running():
        stand_in.microphone.present.clear()
        stand_in.microphone.streams[-1].runs = False
        stand_in.until_lost("microphone")
        _goes_on(stand_in)
        stand_in.microphone.present.append(MIC)
        while len(stand_in.microphone.streams) < 2:
            pass
        stand_in.microphone.streams[-1].deliver(stand_in.quiet_block())
        stand_in.until_back("microphone")
    assert wording.device_lost("microphone") in stand_in.said
    assert wording.device_back("microphone") in stand_in.said


def test_a_library_that_hangs_when_it_closes_a_device_is_told(
    stand_in: StandInBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Lifeline, "CALL_S", 0.05)
    go_on = threading.Event()
    with stand_in.running():
        stream = stand_in.microphone.streams[-1]
        monkeypatch.setattr(stream, "close", lambda: go_on.wait(LIMIT_S))
        stream.runs = False
        lost = stand_in.until_lost("microphone")
        assert lost.reason == "its library does not answer"
        _goes_on(stand_in)
        go_on.set()
        while len(stand_in.microphone.streams) < 2:
            pass
        stand_in.microphone.streams[-1].deliver(stand_in.quiet_block())
        stand_in.until_back("microphone")


def test_a_library_that_fails_in_an_unknown_way_is_a_lost_device(
    stand_in: StandInBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def odd(_library: StandInLibrary) -> None:
        raise AttributeError("no such thing")

    with stand_in.running():
        assert stand_in.bench._microphone is not None
        lifeline = stand_in.bench._microphone.lifeline
        stand_in.microphone.streams[-1].deliver(stand_in.quiet_block())
        while lifeline._seen_beat < lifeline._last_beat:
            pass
        monkeypatch.setattr(StandInLibrary, "devices", odd)
        stand_in.microphone.streams[-1].runs = False
        lost = stand_in.until_lost("microphone")
        assert lost.reason == "AttributeError no such thing"
        _goes_on(stand_in)


def test_a_recogniser_that_fails_is_told_and_made_anew(stand_in: StandInBench) -> None:
    with stand_in.running():
        stand_in.fails = "out of memory"
        stand_in.talk()
        assert stand_in.until_lost("recogniser").reason == "out of memory"
        stand_in.until_back("recogniser")
        stand_in.talk()
        heard = stand_in.next()
        assert isinstance(heard, Heard)
        assert heard.outcome == "accept"


def test_a_recogniser_that_hangs_is_given_up_for_another(
    stand_in: StandInBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listener_module, "ANSWER_S", 0.05)
    with stand_in.running():
        stand_in.hangs = 1
        stand_in.talk()
        assert stand_in.until_lost("recogniser").reason == "it does not answer"
        stand_in.until_back("recogniser")
        stand_in.talk()
        assert isinstance(stand_in.next(), Heard)
        # What the one that was given up makes of its sound at last is not heard.
        stand_in.go_on.set()
        _goes_on(stand_in)
    with Journal.open(stand_in.record, write=False) as journal:
        events = journal.events(journal.jobs()[0].id)
    assert sum(isinstance(event, Heard) for event in events) == 1


def test_recognisers_that_all_hang_leave_the_keypad(
    stand_in: StandInBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listener_module, "ANSWER_S", 0.05)
    monkeypatch.setattr(listener_module, "MOST_HANGING", 1)
    with stand_in.running():
        stand_in.hangs = 2
        stand_in.talk()
        stand_in.until_lost("recogniser")
        stand_in.until_back("recogniser")
        stand_in.talk()
        stand_in.until_lost("recogniser")
        _goes_on(stand_in)
        assert not stand_in.bench.hears
        # One of them returns at last: there is room for another.
        stand_in.go_on.set()
        stand_in.until_back("recogniser")
        stand_in.talk()
        assert isinstance(stand_in.next(), Heard)


@pytest.mark.parametrize("how", ["fails", "hangs"])
def test_a_voice_that_is_lost_is_printed_and_comes_back(stand_in: StandInBench, how: str) -> None:
    with stand_in.running():
        stand_in.forget_speech()
        if how == "fails":
            stand_in.engine.fails = "no memory"
        else:
            stand_in.engine.go_on.clear()
        _goes_on(stand_in)
        stand_in.until_lost("voice")
        _goes_on(stand_in)
        stand_in.engine.fails = ""
        stand_in.engine.go_on.set()
        while not stand_in.bench.loop.state or "voice" in stand_in.bench.loop.state.lost:
            _goes_on(stand_in)
    assert stand_in.said.count(wording.device_lost("voice")) == 1
    assert wording.device_back("voice") in stand_in.said
    # Printed all the same, by a thread that has ended.
    assert f"say: {safety.KEY_OUT}\n" in stand_in.out.getvalue()


def test_a_disk_that_does_not_answer_is_told_while_it_is_waited_for(
    stand_in: StandInBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assistant.bench.live_bench.SLOW_DISK_S", 0.05)
    real = Journal.append

    def slow(journal: Journal, job_id: str, event: object) -> int:
        while wording.DISK_SLOW not in " ".join(stand_in.engine.spoken):
            pass
        return real(journal, job_id, event)  # type: ignore[arg-type]

    with stand_in.running():
        stand_in.forget_speech()
        monkeypatch.setattr(Journal, "append", slow)
        _goes_on(stand_in)
    assert "the disk does not answer" in stand_in.err.getvalue()


def test_no_portaudio_at_all_is_told_at_the_start(tmp_path: Path) -> None:
    stand_in = StandInBench(tmp_path)

    def none(kind: str) -> StandInLibrary:
        raise DeviceFault("microphone" if kind == "microphone" else "speaker", "gone", "get it")

    object.__setattr__(stand_in.bench._around, "library", none)
    with stand_in.running():
        stand_in.until_lost("microphone")
        _goes_on(stand_in)
    assert "speaker: gone; get it" in stand_in.err.getvalue()


def _threads() -> Iterator[str]:
    return (thread.name for thread in threading.enumerate())


def test_every_thread_ends_with_the_bench(stand_in: StandInBench) -> None:
    before = set(threading.enumerate())
    with stand_in.running():
        _goes_on(stand_in)
        assert {"microphone", "speaker", "listener", "watch", "printer"} <= set(_threads())
    left = [thread.name for thread in set(threading.enumerate()) - before]
    # The voice's worker is a daemon that waits for more; the others have been joined.
    assert set(left) <= {"voice"}
