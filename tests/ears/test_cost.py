"""What hearing costs beside the work itself: threads that wait for each other, memory kept."""

import subprocess
import sys

import pytest

THREADS = """
import os
import numpy as np
from assistant.devices.ears.voice_activity import CHUNK, best_activity

best_activity().probability(np.zeros(CHUNK, np.int16))
print(len(os.listdir("/proc/self/task")))
"""

MEMORY = """
import re
import numpy as np
from assistant.devices.ears.engines import recogniser
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.onnx_session import give_memory_back
from grammar.offer import Offer
from grammar.scale import Scale
from tests.ears.sounds import clip

def resident():
    return int(re.search(r"VmRSS:\\s+(\\d+) kB", open("/proc/self/status").read())[1]) / 1e3

try:
    ears = recogniser("neural")
except RecogniserError as error:
    print(f"skip: {error}")
    raise SystemExit
ears.arm(Offer(Scale(), ("yes", "no"), readings=True))
call = clip("right plus one")
ears.decode(call)
give_memory_back()
before = resident()
ears.decode(np.tile(call, 10)[:6 * 16_000])
print(resident() - before)
"""

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="asks Linux's /proc")


def _told(script: str) -> float:
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=True
    )
    if done.stdout.startswith("skip: "):
        pytest.skip(done.stdout.strip())
    return float(done.stdout)


def test_the_voice_detector_works_on_one_thread() -> None:
    assert _told(THREADS) == 1


def test_a_long_sound_leaves_no_memory_behind() -> None:
    """In megabytes; what it takes meanwhile is 40."""
    assert _told(MEMORY) < 8
