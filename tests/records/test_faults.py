"""Every fault of record and bench gives one clear line that says what to do next."""

from pathlib import Path

import pytest

from tests.records.bench_faults import BENCH_FAULTS
from tests.records.fault_table import FAULTS, table

# Forking is what is wanted here; later Pythons warn because of numpy's threads.
pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")


def test_the_table_of_faults_is_the_one_that_was_reviewed() -> None:
    """After a change of wording: python -m tests.records.fault_table > tests/records/faults.txt"""
    told = table()
    assert told == (Path(__file__).parent / "faults.txt").read_text(encoding="utf-8")
    lines = told.splitlines()
    assert len(lines) == 2 * (len(FAULTS) + len(BENCH_FAULTS))
    for line in lines:
        assert line.isprintable()
        assert len(line) < 300
        assert "Traceback" not in line
        assert "nothing" not in line.split("]")[-1][:10]
