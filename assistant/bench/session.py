"""The job at the bench: record, devices and keys opened, the job played, all closed again."""

import os
import threading
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import TextIO

from assistant.bench.live_bench import LiveBench
from assistant.bench.loop import last_lines
from assistant.bench.queued import Typed
from assistant.bench.speaking import say_last_words
from assistant.bench.wishes import Surroundings, Wishes
from assistant.devices.ears.hearing import Recogniser
from assistant.devices.faults import DeviceFault
from assistant.devices.keys.input_device import InputDeviceKeys
from assistant.devices.keys.terminal_keys import TerminalKeys
from assistant.devices.library_noise import library_noise_to
from assistant.devices.text.lines import print_line, typed
from assistant.dialogue.machine import Profile
from assistant.records.faults import RecordError
from assistant.records.journal.journal import Journal
from assistant.records.journal.opening import MEMORY
from assistant.records.names import one_line


def run_live(
    profile: Profile,
    record: Path,
    wishes: Wishes,
    make_recogniser: Callable[[], Recogniser],
    *,
    stdin: TextIO,
    stdout: TextIO,
    stderr: TextIO,
    surroundings: Surroundings | None = None,
) -> int:
    """Play a job at the bench; end of typed input saves it.

    Raises RecordError when record or machine cannot be used, after saying so.
    """
    around = surroundings or Surroundings()
    try:
        errors = stderr
        with ExitStack() as stack:
            journal = stack.enter_context(Journal.open(record))
            if stderr.isatty():
                # Sound libraries print on it when a device goes, straight across the screen.
                errors = stack.enter_context(library_noise_to(_noise_file(record)))
            bench = LiveBench(
                profile, journal, wishes, make_recogniser, stdin, stdout, errors, around
            )
            if wishes.screen and stdout.isatty():
                # The screen, drawn over this, shows again what stood there when it is closed.
                for line in journal.told():
                    print(f"sweepsay: {one_line(line, 400)}", file=stderr)
            bench.open(stack)
            _open_keys(bench, wishes, stdin, errors, stack)
            bench.play()
    except RecordError as error:
        say_last_words(error, wishes, around, stdout)
        raise
    # The screen is closed by now.
    told, untold = bench.farewell()
    for line in told:
        print_line(stdout, line)
    for line in untold:
        print_line(stderr, line)
    for line in last_lines(bench.loop):
        print(f"sweepsay: {line}", file=stderr)
    return 0


def _noise_file(record: Path) -> Path:
    return Path(os.devnull) if str(record) == MEMORY else record.with_suffix(".log")


def _open_keys(
    bench: LiveBench, wishes: Wishes, stdin: TextIO, echo: TextIO, stack: ExitStack
) -> None:
    """A keypad of its own, single keys of a terminal, or lines of a pipe; as far as there."""
    if wishes.keypad:
        # Without a keypad of its own nothing is lost: its keys then come through the terminal.
        with suppress(DeviceFault):
            stack.enter_context(InputDeviceKeys(bench.pressed, bench.report("keypad")))
    if wishes.screen and bench.open_screen(stdin, stack):
        return
    if stdin.isatty():
        keys = TerminalKeys(bench.stroke, bench.report("keypad"), stdin=stdin, echo=echo)
        stack.enter_context(keys)
        return
    threading.Thread(
        target=_read_lines, args=(bench, wishes, stdin), name="typed lines", daemon=True
    ).start()


def _read_lines(bench: LiveBench, wishes: Wishes, stdin: TextIO) -> None:
    for text in typed(stdin, empty=True):
        bench.mailbox.put(Typed(text))
    if wishes.ears != "mic" or not bench.hears:
        bench.end()
