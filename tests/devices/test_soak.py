"""Nearly two minutes of the soak: the whole live loop, disturbed in every way that it knows."""

import tempfile
from pathlib import Path

from tests.devices.soak import Soak, checks

SECONDS = 105.0


def test_nothing_is_lost_or_drifts_in_a_short_soak() -> None:
    with tempfile.TemporaryDirectory() as folder:
        soak = Soak(Path(folder), every_s=90.0)
        with soak.stack:
            while soak.seconds < SECONDS or "microphone" in soak.bench._lost:
                soak.step()
            assert checks(soak) == []
            tally = soak.tally
            assert (tally.talk, tally.motors, tally.pulled) == (1, 1, 1)
            assert tally.calls > 4
            assert tally.keys > 3
