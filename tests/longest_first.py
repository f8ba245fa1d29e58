"""The order in which processes that share the tests take files: nobody waits at the end.

xdist takes the files with the most tests first, so that the long ones, which have few tests, would
come last, and one process would wait for the other. Here the first process begins with the jobs
that are played in real time, one after the other, which leave most of a core to those that compute.
The order changes nothing about what is tested.
"""

from collections.abc import Iterable
from typing import Final

from xdist.scheduler import LoadFileScheduling
from xdist.workermanage import WorkerController

IN_REAL_TIME: Final = (
    "tests/devices/test_live_job.py",
    "tests/devices/test_live_interruption.py",
    "tests/simulation/test_hearing_benchmark.py",
    "tests/devices/test_audio_path.py",
    "tests/devices/test_soak.py",
    "tests/devices/test_keypad_job.py",
    "tests/devices/test_screen.py",
    "tests/devices/test_ending_signals.py",
)
"""Played against a clock, the longest first."""

LONG: Final = (
    "tests/test_hostile.py",
    "tests/simulation/test_rehearsals.py",
    "tests/test_style.py",
    "tests/metrology/test_noise_model.py",
    "tests/test_streams.py",
    "tests/ears/test_person.py",
    "tests/ears/test_hearing.py",
    "tests/ears/test_vosk.py",
    "tests/devices/test_hears_itself.py",
    "tests/records/test_kill.py",
    "tests/records/test_resume.py",
    "tests/dialogue/test_packing.py",
)
"""Ten seconds of computing or more, the longest first; the rest follow by how many tests they hold.

The first one makes the wheel and plays the demo that others look at.
"""


def next_file(waiting: Iterable[str], in_real_time: bool) -> str:
    """Which of the waiting files, at least one, a process takes; they come by number of tests."""
    first = (*IN_REAL_TIME, *LONG) if in_real_time else LONG
    last = () if in_real_time else IN_REAL_TIME
    ranks = {name: place for place, name in enumerate(first)}
    ranks |= {name: len(first) + 1 + place for place, name in enumerate(last)}
    return min(waiting, key=lambda name: ranks.get(name, len(first)))


# xdist has no types.
class LongestFirst(LoadFileScheduling):  # type: ignore[misc]
    """Each file whole in one process, in the order of `next_file`."""

    def _assign_work_unit(self, node: WorkerController) -> None:
        name = next_file(self.workqueue, node is self.nodes[0])
        self.workqueue.move_to_end(name, last=False)
        super()._assign_work_unit(node)
