"""Lines for a reader that may stop reading: nobody waits for it, and it is told."""

import io
import os
import threading
from pathlib import Path

from assistant.devices.text.printer import Printer
from assistant.devices.watch import Stint, Watch
from tests.devices.sound_stand_in import Clock


def test_lines_come_in_order_and_whole() -> None:
    out, reports = io.StringIO(), list[str | None]()
    with Printer(out, reports.append) as printer:
        for number in range(1_000):
            printer.line(f"line {number}")
    assert out.getvalue() == "".join(f"line {number}\n" for number in range(1_000))
    assert reports == []


def test_what_the_encoding_lacks_is_written_all_the_same(tmp_path: Path) -> None:
    with (tmp_path / "out").open("w", encoding="ascii") as out, Printer(out, print) as printer:
        printer.line("\u00b11")
    assert (tmp_path / "out").read_bytes() == b"+/-1\n"


def test_a_reader_that_stops_is_told_and_is_back_when_it_reads() -> None:
    """pipe(7): a write to a full pipe blocks until somebody reads."""
    source, target = os.pipe()
    os.set_blocking(target, False)
    filled = 0
    while True:
        try:
            filled += os.write(target, b"." * 4096)
        except BlockingIOError:
            break
    os.set_blocking(target, True)
    reports: list[str | None] = []
    back = threading.Event()

    def report(reason: str | None) -> None:
        reports.append(reason)
        if reason is None:
            back.set()

    clock = Clock()
    with os.fdopen(target, "w") as out, Printer(out, report, clock=clock, most=3) as printer:
        printer.line("first")
        while printer._stint._until is None:
            pass
        printer.check()
        assert reports == []
        clock.now += 6.0
        printer.check()
        printer.check()
        assert reports == ["it takes no more lines"]
        for number in range(5):
            printer.line(str(number))
        assert printer.left_out == 2
        with os.fdopen(source, "rb") as reader:
            assert reader.read(filled) == b"." * filled
            assert back.wait(20)
            assert reader.read(6) == b"first\n"
            assert reader.read(6) == b"0\n1\n2\n"
    assert reports == ["it takes no more lines", None]


def test_a_reader_that_is_gone_is_told_once() -> None:
    source, target = os.pipe()
    os.close(source)
    reports: list[str | None] = []
    told = threading.Event()

    def report(reason: str | None) -> None:
        reports.append(reason)
        told.set()

    with os.fdopen(target, "w") as out, Printer(out, report) as printer:
        printer.line("anybody?")
        assert told.wait(20)
        printer.line("anybody?")
    assert len(reports) == 1
    assert "Broken pipe" in str(reports[0])


def test_a_call_is_overdue_after_its_limit_only_and_only_while_it_lasts() -> None:
    clock = Clock()
    stint = Stint(clock)
    assert not stint.overdue()
    with stint.within(2.0):
        clock.now += 1.9
        assert not stint.overdue()
        clock.now += 0.2
        assert stint.overdue()
    assert not stint.overdue()
    with stint.within(1.0):
        stint.ends()
        clock.now += 5.0
        assert not stint.overdue()


def test_the_watch_looks_again_and_again_until_it_is_closed() -> None:
    looks = threading.Semaphore(0)
    with Watch([looks.release], every_s=0.001) as watch:
        for _ in range(3):
            assert looks.acquire(timeout=20)
    assert not watch._thread.is_alive()
