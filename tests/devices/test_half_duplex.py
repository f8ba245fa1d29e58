"""What was taken in while speaking is dropped, and nothing else."""

import pytest

from assistant.devices.sound.half_duplex import HalfDuplex

# Spoke from 10.0 to 11.0; the room may go on until 11.2.
CASES = [
    (9.90, 9.99, False),
    (9.98, 10.01, True),
    (10.5, 10.53, True),
    (10.99, 11.02, True),
    (11.17, 11.2, True),
    (11.2, 11.23, False),
    (9.0, 12.0, True),
]


@pytest.mark.parametrize(("begin", "end", "dropped"), CASES)
def test_afterwards(begin: float, end: float, dropped: bool) -> None:
    duplex = HalfDuplex(tail_s=0.2)
    duplex.begins(10.0)
    duplex.ends(11.0)
    assert duplex.drops(begin, end) is dropped


@pytest.mark.parametrize(("begin", "end", "dropped"), CASES)
def test_looked_at_late_during_the_next_prompt(begin: float, end: float, dropped: bool) -> None:
    duplex = HalfDuplex(tail_s=0.2)
    duplex.begins(10.0)
    duplex.ends(11.0)
    duplex.begins(20.0)
    assert duplex.drops(begin, end) is dropped
    assert duplex.drops(20.0, 20.03)
    assert not duplex.drops(19.0, 19.03)


def test_while_speaking_and_with_more_to_say() -> None:
    duplex = HalfDuplex()
    assert not duplex.drops(9.0, 9.03)
    duplex.begins(10.0)
    duplex.begins(10.4)
    assert duplex.speaking()
    assert duplex.drops(10.1, 10.13)
    duplex.ends(11.0)
    assert not duplex.speaking()
    assert duplex.drops(10.1, 10.13)


def test_a_headset_hears_all_the_time() -> None:
    duplex = HalfDuplex(headset=True)
    duplex.begins(10.0)
    assert not duplex.drops(10.5, 10.53)
