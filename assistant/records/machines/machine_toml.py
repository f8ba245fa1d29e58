"""A machine's profile as TOML text, and back with errors that name the line.

Belongs here: keys, their units, their ranges. Numbers stay exact: TOML's floats are read as
decimals. A bare number counts thousandths of an inch, or hundredths of a millimetre at a
metric dial; sizes of the machine are in inches or millimetres.
"""

import re
import tomllib
from datetime import date
from decimal import Decimal
from typing import get_args

from assistant.dialogue.machine import MachineKind, Method, Profile
from assistant.dialogue.work_words import hole_depth
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.problem import FrontMayBe
from assistant.records.machines.instrument_toml import (
    DIAL_KEYS,
    GAUGE_KEYS,
    check_together,
    dial_lines,
    gauge_lines,
    read_instrument,
)
from assistant.records.names import MAX_NAME, one_line
from assistant.records.readings.file_values import lines_are_short
from assistant.records.readings.toml_reader import (
    ProfileError,
    TableReader,
    plain_number,
    quoted,
    sized,
    toml_list,
)
from grammar.scale import STEPS, Scale, System

MAX_CHARACTERS = 64_000
MAX_LEAVES = 40
MAX_STACK = 4

KEYS: dict[str, tuple[str, ...]] = {
    "": (
        "name",
        "method",
        "sweep_diameter",
        "tolerance",
        "tolerance_over",
        "front_may_be",
        "pivot_offset",
    ),
    "indicator": ("system", "reach", "step", *DIAL_KEYS),
    "gauges": GAUGE_KEYS,
    "shim": ("span", "stock", "max_leaves", "leaf_tolerance"),
    "axes": ("kind", "nod_offset"),
    "work": ("hole_depth",),
    "noise": (
        "reading_sd",
        "relock_sd",
        "surface",
        "relock",
        "lock_pull",
        "surface_on",
        "relock_on",
    ),
}
"""Every key by its table; the keys before the first table are under the empty name."""


def write_profile(profile: Profile) -> str:
    """The profile as TOML with a comment for every key; `read_profile` gives it back."""
    inch = profile.scale.system == "thou"
    large: Unit = "in" if inch else "mm"
    fine: Unit = "thou" if inch else "mm"
    count = "thou (0.001 inch)" if inch else "hundredths of a millimetre"
    span = [f"span = {quoted(sized(profile.span, large))}"] if profile.span else [
        "# span = \"3 in\"" if inch else "# span = \"75 mm\""
    ]  # fmt: skip
    over = [
        '# tolerance_over = "12 in"' if inch else '# tolerance_over = "300 mm"'
    ] if profile.tolerance_over is None else [
        f"tolerance_over = {quoted(sized(profile.tolerance_over, large))}"
    ]  # fmt: skip
    stock = toml_list(profile.stock)
    pull = (
        ['# lock_pull = "2"  # how far the reading goes from snug to hard']
        if profile.lock_pull is None
        else [f"lock_pull = {quoted(plain_number(profile.lock_pull))}  # from snug to hard"]
    )
    return "\n".join(
        [
            f"name = {quoted(profile.name)}",
            f"method = {quoted(profile.method)}  # {' | '.join(get_args(Method))}",
            f"sweep_diameter = {quoted(sized(profile.sweep_diameter, large))}",
            f"tolerance = {quoted(sized(profile.tolerance, fine))}  # over the sweep diameter",
            "# or over another length, in proportion",
            *over,
            f"front_may_be = {quoted(profile.front_may_be)}"
            f"  # {' | '.join(get_args(FrontMayBe))}: drilling pushes the front down",
            "# where the table pivots side to side, to the right of the spindle axis",
            f"pivot_offset = {quoted(sized(profile.pivot_offset, large))}",
            "",
            "[indicator]",
            f"system = {quoted(profile.scale.system)}  # a called number counts {count}",
            f"reach = {profile.scale.reach}  # the largest number that is called",
            f"step = {quoted(plain_number(profile.scale.step))}  # the finest part that is read",
            *dial_lines(profile.instrument),
            "",
            *gauge_lines(profile.instrument, count, large),
            "",
            "[shim]",
            "# from the hinge edge (packed: the other side) to the shim, if it is known",
            *span,
            f"stock = [{stock}]  # leaves, in {count}",
            f"max_leaves = {profile.max_leaves}  # in one stack",
            f"leaf_tolerance = {quoted(plain_number(profile.leaf_tolerance))}"
            "  # a leaf may be so much off what is written on it",
            "",
            f"[noise]  # standard deviations, in {count}",
            f"reading_sd = {quoted(plain_number(profile.reading_sd))}  # of one reading",
            f"relock_sd = {quoted(plain_number(profile.relock_sd))}  # of relocking",
            "# measured at the machine by saying settle; these count instead where they are",
            f"surface = [{toml_list(profile.surface)}]  # readings at spots in a row",
            f"relock = [{toml_list(profile.relock)}]  # at the right, after each relocking",
            "# the days on which they were, as what is known of a machine ages",
            f"surface_on = {quoted(profile.surface_on)}",
            f"relock_on = {quoted(profile.relock_on)}",
            *pull,
            "",
            "[axes]",
            "# bolted: shim at a tilt bolt, taps | pinned: the same with a locating pin",
            "# free: the table is tapped both ways | head: the spindle's head nods and tilts",
            "# packed: it stands on plain feet, shims go under its low side, on either axis",
            f"kind = {quoted(profile.kind)}",
            "# how far behind the spindle axis a head nods, or a free table turns front to back",
            f"nod_offset = {quoted(sized(profile.nod_offset, large))}",
            "",
            "[work]",
            "# of a hole as it is usually drilled here: how far it leans is told",
            ("# " if profile.hole_depth is None else "")
            + f"hole_depth = {quoted(sized(hole_depth(profile), large))}",
            "",
        ]
    )


def read_profile(text: str, source: str) -> Profile:
    """The profile in TOML text; ``source`` names it in errors. Raises ProfileError."""
    if len(text) > MAX_CHARACTERS or not lines_are_short(text):
        raise ProfileError(source, None, "it is far too long to be a machine profile")
    try:
        data = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        found = re.fullmatch(r"(.*) \(at (?:line (\d+),.*|end of document)\)", str(error))
        problem = found[1] if found else str(error)
        line = int(found[2]) if found and found[2] else len(text.splitlines())
        raise ProfileError(source, line, f"{one_line(problem)}; mend this line") from None
    except (RecursionError, ValueError):
        raise ProfileError(source, None, "it is not TOML that can be read") from None
    return _Reader(text, source, data, KEYS).profile()


class _Reader(TableReader):
    """The profile in the tables of a file."""

    def profile(self) -> Profile:
        self.check_keys()
        usual = Profile()  # in thou
        system: System = self.one_of("indicator", "system", get_args(System), "thou")
        count: Unit = "thou" if system == "thou" else "hundredth"
        large: Unit = "in" if system == "thou" else "mm"
        fine: Unit = "thou" if system == "thou" else "mm"
        # 25 micrometres to a thou: a guess is no finer than that.
        counts = Decimal(1) if system == "thou" else Decimal("2.5")
        scale = Scale(
            system,
            self.whole("indicator", "reach", usual.scale.reach, 1, 999),
            self._step(),
        )
        profile = Profile(
            name=self._name(),
            scale=scale,
            sweep_diameter=self._size("", "sweep_diameter", large, "0.5 in", "80 in"),
            tolerance=self._size("", "tolerance", fine, "0.01 thou", "100 thou"),
            tolerance_over=self._over(large),
            front_may_be=self.one_of("", "front_may_be", get_args(FrontMayBe), "either"),
            pivot_offset=self._offset("", "pivot_offset", large),
            kind=self.one_of("axes", "kind", get_args(MachineKind), usual.kind),
            nod_offset=self._offset("axes", "nod_offset", large),
            span=self._span(large),
            stock=self._stock(count),
            max_leaves=self.whole("shim", "max_leaves", usual.max_leaves, 1, MAX_STACK),
            leaf_tolerance=self._leaf_tolerance(count),
            instrument=read_instrument(self, count),
            hole_depth=self._hole_depth(large),
            method=self.one_of("", "method", get_args(Method), "indicator"),
            reading_sd=self._noise("reading_sd", usual.reading_sd * counts, count),
            relock_sd=self._noise("relock_sd", usual.relock_sd * counts, count),
            surface=self._scatter("surface", count),
            relock=self._scatter("relock", count),
            lock_pull=self._pull(count),
            surface_on=self._day("surface_on"),
            relock_on=self._day("relock_on"),
        )
        check_together(self, profile)
        return profile

    def _name(self) -> str:
        value = self.get("", "name")
        if not isinstance(value, str) or not value.strip() or len(value) > MAX_NAME:
            raise self.fail("", "name", f'write 1 to {MAX_NAME} letters, such as "bench drill"')
        if one_line(value) != value:
            raise self.fail("", "name", "it holds characters that cannot be shown: leave them out")
        return value.strip()

    def _step(self) -> Decimal:
        value = self.get("indicator", "step")
        if value is None:
            return Profile().scale.step
        number = self.number("indicator", "step", value)
        if number not in STEPS:
            allowed = ", ".join(str(step) for step in STEPS)
            raise self.fail("indicator", "step", f"use one of {allowed}")
        return next(step for step in STEPS if step == number)

    def _size(self, table: str, key: str, unit: Unit, least: str, most: str) -> Length:
        value = self.get(table, key)
        if value is None:
            raise self.fail(table, key, f'it is missing: write {key} = "10 {unit}" or the like')
        return self.within(table, key, self.parsed(table, key, value, unit), least, most)

    def _over(self, unit: Unit) -> Length | None:
        value = self.get("", "tolerance_over")
        if value is None:
            return None
        length = self.parsed("", "tolerance_over", value, unit)
        return self.within("", "tolerance_over", length, "0.5 in", "200 in")

    def _offset(self, table: str, key: str, unit: Unit) -> Length:
        value = self.get(table, key)
        length = self.parsed(table, key, 0 if value is None else value, unit)
        return self.within(table, key, length, "-200 in", "200 in")

    def _span(self, unit: Unit) -> Length | None:
        value = self.get("shim", "span")
        if value is None:
            return None
        length = self.parsed("shim", "span", value, unit)
        return self.within("shim", "span", length, "0.1 in", "200 in")

    def _stock(self, unit: Unit) -> tuple[Decimal, ...]:
        value = self.get("shim", "stock")
        if value is None:
            raise self.fail("shim", "stock", 'it is missing: write stock = ["1.5", "2", "3"]')
        if type(value) is not list or len(value) > MAX_LEAVES:
            raise self.fail("shim", "stock", f"write up to {MAX_LEAVES} leaves in [ ]")
        return tuple(self.counts("shim", "stock", each, unit, "0.1 thou", "1 in") for each in value)

    def _hole_depth(self, unit: Unit) -> Length | None:
        value = self.get("work", "hole_depth")
        if value is None:
            return None
        length = self.parsed("work", "hole_depth", value, unit)
        return self.within("work", "hole_depth", length, "0.05 in", "40 in")

    def _leaf_tolerance(self, unit: Unit) -> Decimal:
        value = self.get("shim", "leaf_tolerance")
        if value is None:
            return Decimal(0)
        return self.counts("shim", "leaf_tolerance", value, unit, "0 in", "0.05 in")

    def _noise(self, key: str, usual: Decimal, unit: Unit) -> Decimal:
        value = self.get("noise", key)
        return usual if value is None else self.counts("noise", key, value, unit, "0 in", "1 in")

    def _scatter(self, key: str, unit: Unit) -> tuple[Decimal, ...]:
        value = self.get("noise", key)
        if value is None:
            return ()
        if type(value) is not list or len(value) == 1 or len(value) > MAX_LEAVES:
            raise self.fail("noise", key, f"write none or 2 to {MAX_LEAVES} readings in [ ]")
        return tuple(self.counts("noise", key, each, unit, "-1 in", "1 in") for each in value)

    def _day(self, key: str) -> str:
        value = self.get("noise", key)
        if value is None or value == "":
            return ""
        try:
            return date.fromisoformat(str(value)).isoformat()
        except ValueError:
            raise self.fail("noise", key, 'write a day such as "2026-02-11"') from None

    def _pull(self, unit: Unit) -> Decimal | None:
        value = self.get("noise", "lock_pull")
        if value is None:
            return None
        return self.counts("noise", "lock_pull", value, unit, "0 in", "1 in")
