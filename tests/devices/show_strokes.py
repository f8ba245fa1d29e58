"""Shows every stroke on a line, for the tests in a real terminal. Ends with control-C."""

import sys
import threading

from assistant.devices.keys.keypad import EndOfInput, Interrupt, Stroke
from assistant.devices.keys.terminal_keys import TerminalKeys


def main() -> None:
    """Optional argument "application": put the keypad into application mode."""
    ended = threading.Event()

    def show(stroke: Stroke) -> None:
        sys.stdout.write(f"{stroke}\n")
        sys.stdout.flush()
        if isinstance(stroke, (Interrupt, EndOfInput)):
            ended.set()

    if "application" in sys.argv:
        sys.stdout.write("\x1b=")
    with TerminalKeys(show, stdin=sys.stdin):
        sys.stdout.write("ready\n")
        sys.stdout.flush()
        ended.wait()
    sys.stdout.write("\x1b>")


if __name__ == "__main__":
    main()
