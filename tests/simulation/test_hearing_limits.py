"""The limits of the ears are those that cost least."""

from dataclasses import replace

from tests.benchmarks.hearing_limits import ACCEPTED_WRONG, Judged, limits_for

RIGHT = Judged(0.99, 0.999, may=True, told=False, is_talk=False, is_right=True)
WRONG = replace(RIGHT, is_right=False)
TALK = replace(WRONG, is_talk=True)


def _kept(rows: list[Judged]) -> tuple[list[Judged], list[Judged]]:
    """Which of them are accepted, and which are not turned down."""
    limits = limits_for(rows)
    sure = [row for row in rows if row.ours >= limits.ours and row.right >= limits.right]
    return [row for row in sure if row.may], [row for row in rows if row.ours >= limits.ask]


def test_a_wrong_number_is_worth_many_questions() -> None:
    wrong, fair = replace(WRONG, right=0.967), replace(RIGHT, right=0.966)
    few, many = int(ACCEPTED_WRONG / 4), int(2 * ACCEPTED_WRONG)
    assert _kept([wrong, *[fair] * few])[0] == []
    assert _kept([wrong, *[fair] * many])[0] == [wrong, *[fair] * many]
    assert _kept([wrong, *[RIGHT] * few])[0] == [RIGHT] * few


def test_what_the_gates_themselves_doubt_is_asked_though_nothing_went_wrong() -> None:
    assert _kept([replace(RIGHT, right=0.75)] * 30)[0] == []
    assert _kept([replace(RIGHT, ours=0.75)] * 30)[0] == []


def test_what_counts_little_is_let_through() -> None:
    talk, fair = replace(TALK, ours=0.967), replace(RIGHT, ours=0.966)
    assert _kept([talk, *[fair] * 5])[0] == []
    rare = replace(talk, weight=0.01)
    assert _kept([rare, *[fair] * 5])[0] == [rare, *[fair] * 5]


def test_talk_is_turned_down_where_few_calls_are_lost() -> None:
    talk, faint = replace(TALK, ours=0.3), replace(RIGHT, ours=0.2)
    assert _kept([*[talk] * 9, faint, *[RIGHT] * 9])[1] == [RIGHT] * 9
    assert faint in _kept([talk, *[faint] * 9])[1]


def test_what_is_told_as_off_the_dial_costs_no_question() -> None:
    """So the limit for asking may be as low as where only such ones are."""
    told = replace(RIGHT, ours=0.1, may=False, told=True)
    asked = replace(told, told=False, is_talk=True)
    assert told in _kept([told, *[RIGHT] * 9])[1]
    assert asked not in _kept([asked, *[RIGHT] * 9])[1]
