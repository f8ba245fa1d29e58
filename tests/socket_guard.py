"""The command in a process of its own that notices every connection to anywhere.

Python reports every socket to an audit hook (PEP 578). A process that opened one ends with
the code 99 and a line on the error stream.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent

TOLD = b"SOCKETS"

NO_SOCKETS = """
import socket
OPENED = []
def hook(event, args):
    # A pair of sockets within the process is how an event loop wakes itself.
    if event == "socket.__new__" and args[1] != socket.AF_UNIX:
        OPENED.append((event, args[1:]))
    if event in ("socket.connect", "socket.bind", "socket.getaddrinfo", "socket.sendto"):
        OPENED.append((event, args[1:]))
sys.addaudithook(hook)
import atexit
atexit.register(lambda: OPENED and (sys.stderr.write(f"SOCKETS {OPENED}\\n"), os._exit(99)))
"""


def run_command(
    *arguments: str,
    typed_bytes: bytes = b"",
    before: str = "",
    python: Path = Path(sys.executable),
    folder: Path = ROOT,
) -> "subprocess.CompletedProcess[bytes]":
    """Run ``sweepsay`` with these arguments, after these lines of Python, in this folder."""
    program = f"import os, sys\n{before}\nfrom assistant.__main__ import main\n"
    program += "sys.exit(main(sys.argv[1:]))"
    return subprocess.run(
        [python, "-c", program, *arguments], cwd=folder, input=typed_bytes,
        capture_output=True, check=False, timeout=300,
    )  # fmt: skip
