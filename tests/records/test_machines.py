"""Machine profiles: TOML that comes back exactly, errors that name the line, names that stay in."""

import tomllib
from dataclasses import fields, replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assistant.dialogue.machine import Instrument, Profile
from assistant.metrology.lengths import Length
from assistant.records.faults import RecordError
from assistant.records.machines.folder import Shelf, remember_noise
from assistant.records.machines.machine_toml import read_profile, write_profile
from assistant.records.machines.presets import LAYOUTS, preset
from assistant.records.readings.toml_reader import ProfileError, line_of
from grammar.scale import STEPS, Scale

INCH = write_profile(Profile(name="bench drill"))

_name = st.text(
    st.characters(min_codepoint=32, max_codepoint=0x2FFF, categories=["L", "N", "P", "S", "Zs"]),
    min_size=1,
    max_size=40,
).map(str.strip)


def _decimals(least: str, most: str, places: int) -> st.SearchStrategy[Decimal]:
    return st.decimals(Decimal(least), Decimal(most), places=places, allow_nan=False)


_profiles = st.builds(
    Profile,
    name=_name.filter(bool),
    scale=st.builds(
        Scale, st.sampled_from(["thou", "mm"]), st.integers(1, 999), st.sampled_from(STEPS)
    ),
    sweep_diameter=_decimals("13", "2000", 3).map(Length),
    tolerance=_decimals("0.001", "2.5", 4).map(Length),
    pivot_offset=_decimals("-900", "900", 3).map(Length),
    span=st.none() | _decimals("3", "900", 3).map(Length),
    stock=st.lists(_decimals("0.5", "99", 2), max_size=20).map(tuple),
    max_leaves=st.integers(1, 4),
    kind=st.sampled_from(["bolted", "pinned", "free", "head"]),
    nod_offset=_decimals("-900", "900", 3).map(Length),
    reading_sd=_decimals("0", "9", 2),
    relock_sd=_decimals("0", "9", 2),
)  # fmt: skip


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_profiles)
def test_a_profile_comes_back_exactly(profile: Profile) -> None:
    back = read_profile(write_profile(profile), "x.toml")
    assert back == profile
    # tomllib is Python's own reader, not ours.
    assert tomllib.loads(write_profile(profile))["name"] == profile.name


def test_every_field_of_a_profile_can_be_written() -> None:
    """A field added to the profile and forgotten here would be lost on the way to disk."""
    other = Profile(
        name="other",
        scale=Scale("mm", 80, Decimal("0.1")),
        sweep_diameter=Length.of(111, "mm"),
        tolerance=Length.of("0.222", "mm"),
        tolerance_over=Length.of(300, "mm"),
        front_may_be="high",
        pivot_offset=Length.of(-33, "mm"),
        span=Length.of(44, "mm"),
        stock=(Decimal("5.5"), Decimal(7)),
        max_leaves=2,
        instrument=Instrument(
            face="continuous",
            per_turn=50,
            counter=True,
            higher="minus",
            lever_deg=Decimal(15),
            tip="involute",
            gauges=(Decimal(5), Decimal(20)),
            set_to=Decimal(20),
            square_height=Length.of(150, "mm"),
            limit=Decimal("0.5"),
        ),
        leaf_tolerance=Decimal("0.1"),
        hole_depth=Length.of(33, "mm"),
        method="gap",
        reading_sd=Decimal("0.6"),
        relock_sd=Decimal("0.8"),
        surface=(Decimal("0.5"), Decimal(-1), Decimal(0)),
        surface_on="2026-02-11",
        relock=(Decimal(1), Decimal(2)),
        relock_on="2026-01-30",
        lock_pull=Decimal("1.5"),
        kind="pinned",
        nod_offset=Length.of(222, "mm"),
    )
    usual = Profile()
    same = [f.name for f in fields(Profile) if getattr(other, f.name) == getattr(usual, f.name)]
    # How old a measurement is depends on the day of the job: the file has the days of measuring.
    assert same == ["surface_days", "relock_days"]
    assert read_profile(write_profile(other), "x.toml") == other


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
@pytest.mark.parametrize("units", ["inch", "metric"])
def test_every_preset_is_a_whole_profile(layout: object, units: str) -> None:
    assert units in ("inch", "metric")
    name = getattr(layout, "name", "")
    profile = preset(name.upper(), "inch" if units == "inch" else "metric")
    assert profile is not None
    assert profile.scale.system == ("thou" if units == "inch" else "mm")
    assert profile.name == name
    assert read_profile(write_profile(profile), "x.toml") == profile
    assert profile.tolerance < profile.sweep_diameter
    # A sweep within tolerance, and one that is well out, can be called at the dial.
    count = profile.scale.count_mm
    assert profile.tolerance.mm / count < profile.scale.reach
    assert profile.tolerance.mm / count > profile.scale.step


def test_no_preset_of_another_name() -> None:
    assert preset("lathe", "inch") is None


def test_bare_numbers_and_units_in_a_profile() -> None:
    text = """
name = "mill"
sweep_diameter = 8.5
tolerance = 2
[indicator]
system = "thou"
reach = 40
step = 0.1
[shim]
stock = [1.5, "2", "0.0508 mm"]
[noise]
reading_sd = 0.25
"""
    profile = read_profile(text, "mill.toml")
    assert profile.sweep_diameter == Length.of("8.5", "in")
    assert profile.tolerance == Length.of(2, "thou")
    assert profile.stock == (Decimal("1.5"), Decimal(2), Decimal(2))
    assert profile.reading_sd == Decimal("0.25")
    assert profile.scale.step == Decimal("0.1")


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('name = "bench drill"\n', "", None, "name: write 1 to 64 letters"),
        ('"bench drill"', '""', 1, "name: write 1 to 64 letters"),
        ('"bench drill"', "7", 1, "name: write 1 to 64 letters"),
        ('"bench drill"', '"a\\u001b[2Jb"', 1, "cannot be shown"),
        ('"bench drill"', '"' + "x" * 65 + '"', 1, "name: write 1 to 64"),
        ('"bench drill"', '"bench drill', 1, "mend this line"),
        (
            '"indicator"  #',
            '"guess"  #',
            2,
            "method: use 'indicator' or 'gap'",
        ),
        ('"10 in"', '"10 feet"', 3, 'no unit is called "feet"'),
        ('"10 in"', '"ten"', 3, "write a number and a unit"),
        ('"10 in"', "true", 3, "write a length"),
        ('"10 in"', '"-10 in"', 3, "use something from 0.5 in to 80 in"),
        ('"10 in"', '"1e3 in"', 3, "unit"),
        ('sweep_diameter = "10 in"\n', "", None, "sweep_diameter: it is missing"),
        ("sweep_diameter", "sweep_diametre", 3, "did you mean sweep_diameter?"),
        ('"4 thou"', '"0 thou"', 4, "tolerance: use something from"),
        ("reach = 30", "reach = 0", 13, "indicator.reach: use a whole number from 1 to 999"),
        ("reach = 30", "reach = 1_000_000", 13, "use a whole number from 1 to 999"),
        ("reach = 30", "reach = true", 13, "use a whole number"),
        ('step = "0.5"', 'step = "0.3"', 14, "indicator.step: use one of 1, 0.5"),
        ('step = "0.5"', "step = nan", 14, "plain number"),
        ('system = "thou"', 'system = "cubits"', 12, "use 'thou' or 'mm'"),
        ("[indicator]", "[indicater]", 11, "did you mean indicator?"),
        ('["1.5",', '["-1.5",', 31, "shim.stock: use something from 0.1 thou"),
        ('["1.5",', '[["1.5"],', 31, "shim.stock: write a length"),
        ('["1.5",', '["1/3",', 31, "a fraction ends in"),
        ("stock = [", "stock = [" + "1, " * 60, 31, "up to 40 leaves"),
        ("max_leaves = 3", "max_leaves = 9", 32, "shim.max_leaves: use a whole number from 1 to 4"),
        ('reading_sd = "0.8"', 'reading_sd = "-1"', 36, "noise.reading_sd: use something from"),
        ("[noise]", "noise = 3", None, "noise"),
        ("counter = false", "counter = 0", 17, "indicator.counter: use true or false"),
        ('lever = "0"', 'lever = "70"', 19, "lay the lever flatter"),
        ('face = "balanced"', 'face = "round"', 15, "use 'balanced' or 'continuous'"),
        ('"indicator"  #', '"square"  #', 23, "gauges.square_height: method square needs it"),
        ("leaves = []", "leaves = 4", 24, "gauges.leaves: write up to 40 leaves"),
        ("per_turn = 100", "per_turn = 2", 16, "use a whole number from 5 to 999"),
        ("[shim]", "[shim]\n[shim]", 29, "mend this line"),
    ],
)
def test_a_bad_profile_names_file_line_key_and_what_to_do(
    old: str, new: str, line: int | None, says: str
) -> None:
    assert INCH.count(old) == 1
    with pytest.raises(ProfileError) as caught:
        read_profile(INCH.replace(old, new), "shop/drill.toml")
    message = str(caught.value)
    place = f"shop/drill.toml, line {line}: " if line else "shop/drill.toml: "
    assert message.startswith(place) or line is None, message
    assert says in message
    assert message.isprintable()
    assert len(message) < 300


@settings(deadline=None)
@given(st.data())
def test_any_damage_to_a_profile_is_a_profile_or_one_named_error(data: st.DataObject) -> None:
    text = list(INCH)
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.integers(0, len(text) - 1))
        text[place] = data.draw(st.characters(max_codepoint=0x2FF))
    try:
        read = read_profile("".join(text), "x.toml")
    except ProfileError as error:
        message = str(error)
    else:
        message = read.name
    assert message.isprintable()


@pytest.mark.parametrize("text", ["[" * 50_000, "a = " + "[" * 20_000, "x" * 100_000, "\0", ""])
def test_hostile_toml_is_one_named_error(text: str) -> None:
    with pytest.raises(ProfileError):
        read_profile(text, "x.toml")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"indicator"  #', '"gap"  #', "method: kind head is set by an indicator"),
        ('lever = "0"', 'lever = "9"', "indicator.lever: kind head wants a plunger"),
        ('higher = "plus"', 'higher = "minus"', "indicator.higher: kind head wants a plunger"),
    ],
)
def test_a_head_is_not_set_by_every_way_of_measuring(old: str, new: str, says: str) -> None:
    head = INCH.replace('kind = "bolted"', 'kind = "head"')
    assert head.count(old) == 1
    with pytest.raises(ProfileError, match=says):
        read_profile(head.replace(old, new), "mill.toml")
    assert read_profile(INCH.replace(old, new), "drill.toml").kind == "bolted"


def test_lines_of_keys() -> None:
    assert line_of(INCH, "", "tolerance") == 4
    assert line_of(INCH, "shim", "max_leaves") == 32
    assert line_of(INCH, "shim", "nothing") == 28
    assert line_of("", "", "name") is None


# -- the folder ----------------------------------------------------------------------------


def test_a_machine_is_found_by_its_name_however_it_is_written(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "machines")
    assert shelf.names() == ()
    path = shelf.save(Profile(name="Bench Drill  press"))
    assert path == tmp_path / "machines" / "bench-drill-press.toml"
    for name in ("bench drill press", "BENCH-DRILL-PRESS", " Bench drill_press "):
        assert shelf.load(name).name == "Bench Drill  press"
    assert shelf.names() == ("bench-drill-press",)


def test_names_cannot_leave_the_folder(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "machines")
    (tmp_path / "outside.toml").write_text(INCH)
    bad = (
        "../outside", "..", ".", "", "/etc/passwd", "a/b", "a\\b", "c:x", "con", "NUL", "com1",
        "x\0", "x\n", "\x1b[2J", "x" * 65, "‮abc", "~", "$HOME", "a;b", "-", "....//x",
    )  # fmt: skip
    for name in bad:
        with pytest.raises(RecordError) as caught:
            shelf.save(replace(Profile(), name=name))
        assert caught.value.code in ("bad_name", "bad_input")
        assert str(caught.value).isprintable()
        with pytest.raises(RecordError):
            shelf.load(name)
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["outside.toml"]


def test_an_unknown_machine_says_which_there_are(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    with pytest.raises(RecordError, match=r"there are: none yet.*machine new"):
        shelf.load("mill")
    shelf.save(Profile(name="mill"))
    with pytest.raises(RecordError, match="there are: mill"):
        shelf.load("drill")


def test_saving_does_not_overwrite_unless_told_to(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.save(Profile(name="mill"))
    with pytest.raises(RecordError, match="already"):
        shelf.save(Profile(name="Mill", max_leaves=1))
    assert shelf.load("mill").max_leaves == 3
    shelf.save(Profile(name="Mill", max_leaves=1), replace=True)
    assert shelf.load("mill").max_leaves == 1
    assert [path.name for path in tmp_path.iterdir()] == ["mill.toml"]


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"x" * 1_000_000])
def test_a_file_that_is_no_profile_is_one_named_error(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "mill.toml").write_bytes(content)
    with pytest.raises(RecordError, match=r"mill\.toml") as caught:
        Shelf(tmp_path).load("mill")
    assert caught.value.code == "bad_input"


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "mill.toml").write_bytes(b"\xef\xbb\xbf" + INCH.encode())
    assert Shelf(tmp_path).load("mill").name == "bench drill"


def test_what_was_settled_goes_into_the_file_beside_the_persons_comments(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.save(Profile(name="bench"))
    text = "# by the window\n" + shelf.text("bench")
    shelf.replace_text("bench", text)
    learned = replace(
        shelf.load("bench"), surface=(Decimal(0), Decimal("-0.5"), Decimal(1)),
        surface_on="2026-02-11",
        lock_pull=Decimal(2),
    )  # fmt: skip
    remember_noise(shelf, learned)
    assert shelf.load("bench") == learned
    assert shelf.text("bench").startswith("# by the window\n")
    remember_noise(shelf, Profile(name="no file"))
    assert shelf.names() == ("bench",)
