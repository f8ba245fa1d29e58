"""Wiring of the command line, and every error turned into one line and an exit code.

A command's module is imported when it is called: `solve` need not wait for a recogniser. So is
everything else here but what Python itself has at its start, since whoever presses Ctrl-C in that
moment gets a line as well.
"""

import errno
import sys

TYPE_CHECKING = False  # typing itself takes a while to import
if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence
    from contextlib import AbstractContextManager
    from types import FrameType

ENDED_BY = ("SIGTERM", "SIGHUP")
"""Signals that ask a program to end (POSIX, <signal.h>); Windows has only some of them."""


CLOSED_BY_S = 20.0
"""Seconds after which everything is closed, or never will be: a sound device takes 10."""

SIGINT = 2
"""Its number on every system (POSIX, kill)."""


class Ended(BaseException):
    """A signal asked the program to end; every device is closed on the way out."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


def main(argv: "Sequence[str] | None" = None) -> int:
    """Run one command; returns the exit code.

    0 done, 1 could not be done, 2 wrong usage, 128 and its number when a signal ended it.
    """
    try:
        with _signals():
            return _guarded(argv)
    except KeyboardInterrupt:
        return _stopped(SIGINT)
    except Ended as ended:
        return _stopped(ended.number)


def _signals() -> "AbstractContextManager[None]":
    """Let signals that end a program end it in order, so that terminals are left as they were."""
    import signal
    from contextlib import contextmanager

    @contextmanager
    def ending() -> "Iterator[None]":
        before, end = {}, _Ending()
        for name in ENDED_BY:
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                try:
                    before[number] = signal.signal(number, end)
                except ValueError:
                    # Not the main thread: whoever called us from there has signals of their own.
                    break
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    return ending()


class _Ending:
    """What a signal does: the first one ends the program in order.

    Others are ignored while everything is being closed, which they would stop half-way; but not for
    ever, should the first have been swallowed by whatever was running.
    """

    def __init__(self) -> None:
        self._since_s: float | None = None

    def __call__(self, number: int, _frame: "FrameType | None" = None) -> None:
        import os
        import time

        if self._since_s is None:
            self._since_s = time.monotonic()
            raise Ended(number)
        if time.monotonic() - self._since_s > CLOSED_BY_S:
            os._exit(128 + number)


def _stopped(number: int) -> int:
    from contextlib import suppress

    from assistant.devices.text.streams import stop_printing

    # The terminal may have gone, which then is what ended us.
    with suppress(OSError, ValueError):
        print("sweepsay: stopped; every accepted reading is kept", file=sys.stderr)
    stop_printing()
    return 128 + number


def _guarded(argv: "Sequence[str] | None") -> int:
    from assistant.devices.text.streams import open_streams, stop_printing

    if not open_streams():
        return _fail("standard output is closed: open it, or send it to a file")
    try:
        try:
            return _command(argv)
        finally:
            sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output has gone.
        stop_printing()
        return 1
    except OSError as error:
        code = _fail(_in_words(error))
        stop_printing()
        return code


def _command(argv: "Sequence[str] | None") -> int:
    from assistant.arguments import build_parser
    from assistant.devices.ears.model_faults import ModelError
    from assistant.devices.faults import DeviceFault
    from assistant.devices.sound.settings import SettingsError
    from assistant.records.faults import RecordError
    from assistant.records.readings.file_values import ReadingsFileError

    parser = build_parser()
    if not (sys.argv[1:] if argv is None else argv):
        # Whoever gives no command does not know them yet.
        parser.print_help(sys.stderr)
        parser.exit(2)
    arguments = parser.parse_args(argv)
    try:
        return _dispatch(arguments)
    except (RecordError, ReadingsFileError, DeviceFault, ModelError) as error:
        return _fail(str(error))
    except SettingsError as error:
        _fail(str(error))
        return 2


def _in_words(error: OSError) -> str:
    reason = error.strerror or str(error)
    if error.filename is not None:
        return f"{error.filename}: {reason}: check its place and its permissions"
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return f"what is printed finds no room ({reason}): free some space, or print elsewhere"
    return f"reading or printing failed ({reason}): check where input and output lead"


def _fail(message: str) -> int:
    from assistant.records.names import message_line

    try:
        # Names of files and devices come from outside and may hold what steers a terminal.
        print(f"sweepsay: {message_line(message)}", file=sys.stderr, flush=True)
    except OSError:
        # Nobody can be told; the exit code says it.
        return 1
    return 1


def _dispatch(arguments: "argparse.Namespace") -> int:
    """Hand over to the command's module; it is imported here and no other is."""
    from importlib import import_module

    module = import_module(f"assistant.commands.{arguments.command}")
    done: int = module.execute(arguments)
    return done


if __name__ == "__main__":
    sys.exit(main())
