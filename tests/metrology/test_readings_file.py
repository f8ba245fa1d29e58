"""Readings files: TOML and JSON to the same problem, and one clear line for what is wrong."""

import io
import json
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.metrology.lengths import Length
from assistant.metrology.solve import solve
from assistant.records.readings.file_values import ReadingsFileError
from assistant.records.readings.readings_file import problem_from_text, read_problem

WHOLE = """
unit = "thou"
method = "indicator"
sweep_diameter = "10 in"
pivot_offset = "0.5 in"
tolerance = "4 thou"
readings = { back = "6", right = "4", front = "0", left = "3" }
closing = "6"
[shim]
span = "3 in"
stock = ["1.5", "2", "3", "4"]
max_leaves = 2
trials = [ { total = "1.5", before = "6", after = "3.5" } ]
[[taps]]
change = "-1"
before = "2"
after = "0.5"
[noise]
surface = ["0", "1", "-1"]
relock = ["0", "2", "1"]
resolution = "0.5"
"""
FOUR = 'readings = { back = "6", right = "4", front = "0", left = "3" }\n'


def test_toml_in_full() -> None:
    problem = problem_from_text(WHOLE)
    assert [reading.station for reading in problem.readings] == ["back", "right", "front", "left"]
    assert problem.readings[1].value == Length.of("4", "thou")
    assert problem.sweep_diameter == Length.of("10", "in")
    assert problem.pivot_offset == Length.of("0.5", "in")
    assert problem.tolerance == Length.of("4", "thou")
    assert problem.closing == Length.of("6", "thou")
    assert problem.shim.max_leaves == 2
    assert problem.shim.stock[0] == Length.of("1.5", "thou")
    assert problem.shim.trials[0].after == Length.of("3.5", "thou")
    assert problem.taps[0].change == Length.of("-1", "thou")
    assert problem.noise.relock[1] == Length.of("2", "thou")
    assert problem.noise.resolution == Length.of("0.5", "thou")


def test_json_says_the_same() -> None:
    table = {
        "unit": "thou",
        "sweep_diameter": "10 in",
        "pivot_offset": "0.5 in",
        "tolerance": "4 thou",
        "readings": {"back": "6", "right": "4", "front": "0", "left": "3"},
        "closing": 6,
        "shim": {
            "span": "3 in",
            "stock": ["1.5", 2, 3.0, "4"],
            "max_leaves": 2,
            "trials": [{"total": 1.5, "before": 6, "after": 3.5}],
        },
        "taps": [{"change": -1, "before": 2, "after": 0.5}],
        "noise": {"surface": [0, 1, -1], "relock": [0, 2, 1], "resolution": 0.5},
    }
    assert problem_from_text(json.dumps(table)) == problem_from_text(WHOLE)


def test_stock_by_name() -> None:
    assert len(problem_from_text(FOUR + 'shim = { stock = "metric_13" }').shim.stock) == 13


def test_readings_keep_the_order_in_which_they_were_taken() -> None:
    problem = problem_from_text("readings = { front = 1, right = 2, back = 3, left = 4 }")
    assert [reading.station for reading in problem.readings] == ["front", "right", "back", "left"]


def test_bare_numbers_are_exact_and_in_the_unit_of_the_job() -> None:
    """0.1 + 0.2 is 0.3 here: numbers of TOML and JSON never pass through floats."""
    problem = problem_from_text(
        'unit = "mm"\nreadings = [{bearing = 0, value = 0.1}, {bearing = 120.5, value = 0.2},'
        ' {bearing = "240", value = 0.3}]'
    )
    values = [reading.value for reading in problem.readings]
    assert values[0] + values[1] == values[2]
    assert problem.readings[1].bearing_deg == Decimal("120.5")


def test_file_dash_and_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "sweep.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FOUR.encode())
    assert read_problem(str(path)) == read_problem("-", io.StringIO(FOUR))


BAD = [
    ("", "empty"),
    ('unit = "thou"', "readings are missing"),
    ("readings = { back = 1, right = 2, front = 3 }", "left is missing"),
    ("readings = { back = 1, right = 2 }", "front and left are missing"),
    ("readings = { back = 1, right = 2, front = 3, left = 4, back = 5 }", "there twice, keep one"),
    ('{"readings": {"back": 1, "back": 2}}', "back is there twice"),
    ("readings = [{bearing = 0, value = 1}, {bearing = 90, value = 2}]", "three stations"),
    ("readings = [{bearing = 0, value = 1}, {bearing = 90, value = 2}, {bearing = 360, value = 2}]",
     "back is there twice"),
    ("readings = [{bearing = 0}]", r"readings\[1\].value is missing"),
    ("readings = [{value = 1}]", r"readings\[1\].bearing is missing"),
    ('readings = [{bearing = "north", value = 1}]', "is not a number"),
    ("readings = [{bearing = 99999, value = 1}]", "from 0 to 360"),
    ("readings = 5", "readings is not a list"),
    ("readings = [5]", r"readings\[1\] is not a table"),
    (FOUR.replace('"3"', '"three"'), "readings.left"),
    (FOUR.replace('"3"', "true"), "true or false"),
    (FOUR.replace('"3"', "[1]"), "is not a number"),
    (FOUR.replace('"3"', "inf"), "is not a length"),
    (FOUR.replace('"3"', '"3 cubits"'), 'no unit is called "cubits"'),
    (FOUR.replace("left", "leftt"), "did you mean left"),
    (FOUR + 'unit = "inch"', "use thou, mm or um"),
    (FOUR + "unit = 5", "use thou, mm or um"),
    (FOUR + 'method = "laser"', "use indicator, gap or square"),
    (FOUR + 'tolerence = "4"', "did you mean tolerance"),
    (FOUR + 'sweep_diameter = "10"', "name its unit"),
    (FOUR + "tolerance = 0", "tolerance is not above zero"),
    (FOUR + "shim = 3", "shim is not a table"),
    (FOUR + 'shim = { span = "3" }', "shim.span is"),
    (FOUR + "shim = { stock = 3 }", "shim.stock is not a list"),
    (FOUR + 'shim = { stock = "metric" }', "list leaves, or name inch_26, metric_20"),
    (FOUR + 'shim = { stock = ["2", "x"] }', r"shim.stock\[2\]"),
    (FOUR + 'shim = { max_leaves = "3" }', "whole number"),
    (FOUR + "shim = { max_leaves = 0 }", "one leaf at least"),
    (FOUR + "shim = { trials = [{ total = 1, before = 2 }] }", r"trials\[1\].after is missing"),
    (FOUR + 'shim = { trials = [{ total = 1, before = 2, after = 1, place = "on" }] }',
     "above or below"),
    (FOUR + "shim = { trials = [{ total = -1, before = 2, after = 1 }] }", "total is negative"),
    (FOUR + "taps = [{ change = 1, before = 2 }]", r"taps\[1\].after is missing"),
    (FOUR + "noise = { surface = [1] }", "two or more"),
    (FOUR + "noise = { resolution = 0 }", "noise.resolution is not above zero"),
    (FOUR + "noise = { relock_sd = -1 }", "noise.relock_sd is negative"),
    ("readings = { back = ", "end of document"),
    ("{", "line 1"),
    ('{"readings": NaN}', "readings is not a list"),
    ("[" * 5000, "TOML"),
    ('{"a":' * 5000, "JSON"),
    ('{"closing": ' + "9" * 5000 + "}", "JSON"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "reason"), BAD)
def test_bad_files(text: str, reason: str) -> None:
    with pytest.raises(ReadingsFileError, match=reason) as caught:
        problem_from_text(text, "sweep.toml")
    message = str(caught.value)
    assert message.startswith("sweep.toml: ")
    assert "\n" not in message


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    binary = tmp_path / "audio.wav"
    binary.write_bytes(b"RIFF\xff\xfe\x00")
    for path, reason in [
        (str(tmp_path / "none.toml"), "check the name"),
        (str(tmp_path), "check the name"),
        (str(binary), "not UTF-8"),
        ("-", "no standard input"),
    ]:
        with pytest.raises(ReadingsFileError, match=reason):
            read_problem(path)


@given(st.text(max_size=60) | st.text("{}[]=,\"'abel0123456789.-\n ", max_size=60))
def test_any_text_is_a_problem_or_one_named_error(text: str) -> None:
    for whole in (text, "readings = " + text, FOUR + text):
        try:
            problem_from_text(whole)
        except ReadingsFileError as error:
            assert "\n" not in str(error)  # noqa: PT017 (a problem is as good an outcome)


PROVENANCE = (
    FOUR
    + """
[[history]]
readings = { back = "1", right = "4", front = "7", left = "4.5" }
closing = "1"
[noise]
surface = ["0", "1", "-1"]
surface_span = "2 in"
days_old = 40
reading_sd = "0.4"
reading_dof = 7.5
relock_sd = "0.3"
"""
)


def test_spots_in_a_row_slope_with_the_table_and_spots_anywhere_do_not_show_it() -> None:
    """Up by one from spot to spot, an inch apart: the table leans, and is not rough for it."""
    row = PROVENANCE.replace('["0", "1", "-1"]', '["0", "1", "2", "3"]')
    apart = problem_from_text(row.replace("surface_span", "surface_apart").replace("2 in", "1 in"))
    assert apart.noise.surface_apart == Length.of("1", "in")
    with pytest.raises(ReadingsFileError, match="surface_apart"):
        problem_from_text(row.replace("surface_span", "surface_apart").replace("2 in", "0 in"))
    anywhere = problem_from_text(row)
    assert 2 * solve(apart).expanded_uncertainty < solve(anywhere).expanded_uncertainty


def test_where_the_noise_comes_from_may_be_told() -> None:
    problem = problem_from_text(PROVENANCE)
    assert problem.noise.surface_span == Length.of("2", "in")
    assert (problem.noise.days_old, problem.noise.reading_dof) == (40, 7.5)
    assert problem.noise.relock_dof is None
    assert problem.history[0].closing == Length.of("1", "thou")


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("days_old = 40", 'days_old = "old"', "noise.days_old is not a number"),
        ("days_old = 40", "days_old = -1", "noise.days_old is negative"),
        ("reading_dof = 7.5", "reading_dof = true", "noise.reading_dof is not a number"),
        ("reading_dof = 7.5", "reading_dof = 0", "noise.reading_dof is not above zero"),
        ("reading_dof = 7.5", "reading_dof = nan", "noise.reading_dof is not a number"),
        ('"2 in"', '"0.002"', "name its unit"),
        ('back = "1", ', "", r"history\[1\].readings: back is missing"),
    ],
)
def test_bad_provenance(old: str, new: str, reason: str) -> None:
    with pytest.raises(ReadingsFileError, match=reason):
        problem_from_text(PROVENANCE.replace(old, new))
