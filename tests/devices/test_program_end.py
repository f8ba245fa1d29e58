"""The program ends as it should while a network is at work on a thread of its own."""

import subprocess
import sys

import pytest

HEARS = """
import threading
import numpy as np
from assistant.devices.ears.engines import recogniser
from assistant.devices.ears.model_faults import RecogniserError
from grammar.offer import Offer
from grammar.scale import Scale

begun = threading.Event()
try:
    ears = recogniser("neural")
except RecogniserError as error:
    print(f"skip: {error}")
    raise SystemExit
ears.arm(Offer(Scale(), ("yes", "no")))
sound = (3000 * np.random.default_rng(1).standard_normal(48_000)).astype(np.int16)

def hear():
    while True:
        ears.decode(sound)
        begun.set()

threading.Thread(target=hear, daemon=True).start()
begun.wait(60)
"""

LOADS = """
import threading, time
from assistant.devices.ears.neural.model_files import read_model_files, why_not
from assistant.devices.ears.neural.transducer import Transducer

if why_not():
    print(f"skip: {why_not()}")
    raise SystemExit
files = read_model_files(None)

def load():
    while True:
        Transducer(files)

threading.Thread(target=load, daemon=True).start()
time.sleep(0.3)
"""


@pytest.mark.parametrize("script", [HEARS, LOADS], ids=["while it hears", "while it loads"])
def test_the_end_waits_for_a_network_at_work(script: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=False
    )
    if done.stdout.startswith("skip: "):
        pytest.skip(done.stdout.strip())
    assert (done.returncode, done.stderr) == (0, "")
