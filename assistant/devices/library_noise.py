"""What C libraries print on the error stream, kept away from the person's terminal.

PortAudio, ALSA and espeak-ng print there from threads of their own, whenever they like.
"""

import os
import sys
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from assistant.devices.text.streams import OTHER_SIGNS


@contextmanager
def library_noise_to(path: Path) -> Generator[TextIO]:
    """Send the error stream of the process into a file; appends to it.

    Yields a stream that still reaches the terminal: use it in place of ``sys.stderr``, which
    goes into the file with the rest until the end.
    """
    sys.stderr.flush()
    kept = os.dup(2)
    try:
        target = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    except OSError:
        os.close(kept)
        raise
    try:
        os.dup2(target, 2)
        with os.fdopen(os.dup(kept), "w", buffering=1, errors=OTHER_SIGNS) as terminal:
            yield terminal
    finally:
        sys.stderr.flush()
        os.dup2(kept, 2)
        os.close(kept)
        os.close(target)
