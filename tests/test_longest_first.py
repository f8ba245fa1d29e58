"""In which order the files of tests are taken."""

import pytest

from tests.installed_wheel import ROOT
from tests.longest_first import IN_REAL_TIME, LONG, next_file

NAMED = (*IN_REAL_TIME, *LONG)


@pytest.mark.parametrize("name", NAMED)
def test_the_files_that_are_named_are_there(name: str) -> None:
    assert (ROOT / name).is_file()
    assert NAMED.count(name) == 1


def test_every_file_is_taken_once_and_one_process_begins_in_real_time() -> None:
    others = ["tests/most.py", "tests/fewer.py"]
    waiting = [*others, *reversed(LONG), *reversed(IN_REAL_TIME)]
    taken: dict[bool, list[str]] = {True: [], False: []}
    turn = True
    while waiting:
        taken[turn].append(next_file(waiting, turn))
        waiting.remove(taken[turn][-1])
        turn = not turn
    assert taken[True][: len(IN_REAL_TIME)] == [*IN_REAL_TIME]
    assert taken[False][: len(IN_REAL_TIME)] == [*LONG[: len(IN_REAL_TIME)]]
    assert [*taken[True], *taken[False]].count("tests/fewer.py") == 1
    alone = [next_file([*IN_REAL_TIME, *others], in_real_time=False)]
    alone.append(next_file([*IN_REAL_TIME, "tests/fewer.py"], in_real_time=False))
    assert alone == others
