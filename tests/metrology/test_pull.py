"""What tightening does is learnt from what it was seen to do."""

import numpy as np
import pytest

from assistant.metrology.pull import learn_pull


@pytest.mark.parametrize("seen", [(), (2.0,), (1.5, 2.5, 1.0)])
def test_the_pull_is_that_of_weighted_least_squares(seen: tuple[float, ...]) -> None:
    """numpy's least squares on the same rows: each reading, and none give or take what is usual."""
    usual, scatter = 0.8, 0.5
    rows = np.array([1 / usual, *(1 / scatter for _ in seen)])[:, None]
    right = np.array([0.0, *(value / scatter for value in seen)])
    fitted = np.linalg.lstsq(rows, right, rcond=None)[0][0]
    pull = learn_pull(seen, usual, scatter)
    assert pull.value == pytest.approx(fitted)
    assert pull.uncertainty == pytest.approx(float(np.linalg.inv(rows.T @ rows)[0, 0]) ** 0.5)


def test_a_lock_that_never_pulls_does_not() -> None:
    assert learn_pull((3.0,), 0.0, 0.5).value == 0
    with pytest.raises(ValueError, match="not above zero"):
        learn_pull((1.0,), 1.0, 0.0)
