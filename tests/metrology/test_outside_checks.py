"""Every row of the table of outside checks."""

import pytest

from tests.metrology.outside_checks import CHECKS, Check, table


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.source}: {check.what}")
def test_outside_check(check: Check) -> None:
    assert abs(check.got() - check.expected) <= check.within


def test_table_marks_nothing_wrong() -> None:
    assert "WRONG" not in table()
    assert len(table().splitlines()) == len(CHECKS) + 1
