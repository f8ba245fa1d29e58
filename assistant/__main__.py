"""Wiring of the command line, and every error turned into one line and an exit code.

A command's module is imported when it is called: `solve` need not wait for a recogniser.
"""

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from assistant.arguments import build_parser
from assistant.devices.faults import DeviceFault
from assistant.devices.model_faults import ModelError
from assistant.devices.sound_settings import SettingsError
from assistant.records.faults import RecordError
from assistant.records.file_values import ReadingsFileError
from assistant.records.names import one_line

LONGEST_MESSAGE = 2_000


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code (0 done, 1 could not be done, 2 wrong usage)."""
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
    except BrokenPipeError:
        # The reader of our output has gone; Python would complain again while closing it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        print("sweepsay: stopped; every accepted reading is kept", file=sys.stderr)
        return 130


def _fail(message: str) -> int:
    # Names of files and devices come from outside and may hold what steers a terminal.
    print(f"sweepsay: {one_line(message, LONGEST_MESSAGE)}", file=sys.stderr)
    return 1


def _dispatch(arguments: argparse.Namespace) -> int:
    """Hand over to the command's module; it is imported here and no other is."""
    module = import_module(f"assistant.commands.{arguments.command}")
    done: int = module.execute(arguments)
    return done


if __name__ == "__main__":
    sys.exit(main())
