"""Runs the check in a process of its own, for the real-path tests. Argument: the record."""

import sys
from pathlib import Path

from assistant.commands.check import Wanted, run_check
from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx
from assistant.devices.ears.verify import verify

if __name__ == "__main__":
    wanted = Wanted(Path(sys.argv[1]), PocketSphinx, verify, listen_s=1.0)
    sys.exit(run_check(wanted, sys.stdin, sys.stdout, as_json=True))
