"""All prompts with sample arguments, for the golden list; run as a module, it writes the list."""

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from types import ModuleType

from assistant.dialogue import prompts
from assistant.dialogue.phases import Phase
from grammar.meaning import Command
from grammar.scale import Scale
from tests.dialogue.typed import TypedJob

GOLDEN = Path(__file__).parent / "prompts.txt"

SAMPLES: dict[str, list[tuple[object, ...]]] = {
    "set_up": [("ten inches", "four thou"), ("two hundred fifty millimetres", "ten hundredths")],
    "diameter": [("inches",), ("millimetres",)],
    "tolerance": [("thou",), ("hundredths",)],
    "zero": [("back",)],
    "relock": [("right",)],
    "snug": [("right",)],
    "hard": [("right",)],
    "dial.sign_test": [(False,), (True,)],
    "dial.higher_is": [("minus",)],
    "dial.counter": [("Front plus five?",)],
    "touch.last": [("back",)],
    "touch.dragged": [("front",)],
    "touch.high": [("front", "right"), ("left", None)],
    "touch.still": [("front",)],
    "touch.flipped": [("back",)],
    "touch.other_axis": [("right",)],
    "touch.tap": [("right",)],
    "touch.closed": [("high at the front", "all alike")],
    "square.first": [("back",)],
    "square.which_end": [(Decimal(4),)],
    "gap.set_rod": [("back", Decimal(10))],
    "gap.rod_on": [(Decimal(15),)],
    "gap.still_drags": [("back", Decimal(10))],
    "gap.which_not": [("front",)],
    "gap.goes_already": [(Decimal(12),)],
    "gap.between": [(Decimal(15), Decimal("16.5"))],
    "noted": [(Decimal("-1.5"),)],
    "settled": [("one", "one and a half", "two"), ("", "", "")],
    "call": [("right",)],
    "which": [("left", Decimal(15), Decimal(50)), ("front", Decimal("6.5"), Decimal("-6.5"))],
    "call_again": [("back",)],
    "reading": [("front", Decimal("6.5")), ("left", Decimal(-12)), ("back", Decimal(0))],
    "corrected": [("front", Decimal("-0.5"))],
    "taken_back": [("right",)],
    "ask_sign": [(Decimal("2.25"),), (Decimal("2.25"), "left")],
    "ask_reading": [("right", Decimal(15)), ("left", Decimal("-3.5"))],
    "packing.ask_shim": [(Decimal("1.5"), False), (Decimal(150), True)],
    "ask_tenths": [
        ("front", Decimal("0.2"), Scale("thou", 30, Decimal("0.1"))),
        ("front", Decimal("0.2"), Scale("thou", 30, Decimal("0.5"))),
        ("left", Decimal(-20), Scale("mm", 50, Decimal(1))),
    ],
    "ask_command": [(Command("finish"),), (Command("skip"),)],
    "drifted": [("back", "three")],
    "not_now": [("done",), ("",)],
    "high_side": [("front", "six")],
    "axis_inside_noise": [("Side to side",)],
    "plus_or_minus": [("one and a half", "the surface"), ("two", "")],
    "within": [("four thou",)],
    "not_as_expected": [(Decimal("-0.5"), Decimal(4))],
    "shim": [
        ((Decimal("1.5"),), Decimal("1.5"), "above"),
        ((Decimal("1.5"), Decimal(2)), Decimal("3.5"), "below"),
    ],
    "shim_is": [(Decimal(3), "above"), (Decimal(0), None)],
    "ease": [("right",)],
    "tap": [("right", True, Decimal("-3.5"))],
    "watch_this": [("right",)],
    "tap_more": [("two", True)],
    "tap_back": [("one and a half", False)],
    "closed": [("fourteen and a half", "half")],
    "device_lost": [("microphone",)],
    "device_back": [("microphone",)],
    "machines.tighten_again": [("right",)],
    "machines.nod": [(True, Decimal("-4.5")), (False, Decimal(6))],
    "machines.tilt": [(True, Decimal(3)), (False, Decimal(-2))],
    "machines.more": [("two",)],
    "machines.back": [("half",)],
    "machines.clamp_head": [("front",)],
    "machines.clamp_table": [("right",)],
    "machines.pulled": [(Decimal("-1.5"),)],
    "heights.differs": [("two",)],
    "heights.corner": [("back right",), ("front left",)],
    "heights.corner_is": [("back right", Decimal("-1.5"))],
    "heights.corner_taken_back": [("front right",)],
    "heights.form_moved": [("back",)],
    "heights.warp": [("front and back", "three"), ("back right and front left", "two")],
    "heights.hollow": [("one and a half",)],
    "number_hint": [("front",), (None,)],
    "introduction.machine": [("bench drill press",)],
    "introduction.reach": [("thirty", "thou")],
    "introduction.turn": [("one hundred",)],
    "introduction.square_at": [("six inches",)],
    "introduction.sweep": [("ten inches",), ("two hundred millimetres",)],
    "introduction.tolerance": [("four thou",)],
    "introduction.taken": [("twelve inches",)],
    "introduction.kept": [("bench drill press",)],
    "packing.under": [
        ((Decimal(3),), Decimal(3), "back", None),
        ((Decimal("1.5"), Decimal(2)), Decimal("3.5"), "left", "right"),
    ],
    "packing.out": [("back",)],
    "packing.is_under": [(Decimal(3), "left"), (Decimal(0), "left")],
    "spindle_checks.lower": [("four inches",), ("one hundred millimetres",)],
    "spindle_checks.noted": [(Decimal("2.5"),)],
    "spindle_checks.runout": [(Decimal(2), Decimal("5.5"))],
    "spindle_checks.shake": [(Decimal(3),)],
    "spindle_checks.end_play": [(Decimal(3),)],
    "spindle_checks.stays": [(Decimal("1.5"),)],
    "spindle_checks.quill_back": [("two inches",)],
    "spindle_checks.quill_right": [("fifty millimetres",)],
    "spindle_checks.quill_runs": [("two back and one left",)],
    "spindle_checks.quill_part": [(Decimal(-2), "left")],
    "work.leans": [
        ("two inch", "one thou", "front"),
        ("fifty millimetre", "half a hundredth", "back left"),
    ],
    "work.leans_under": [("two inch", "half a thou")],
    "bad_entry": [()],
    "status": [(Decimal(1), Decimal(2), "", ""), (Decimal(3), Decimal(0), "six", "two")],
}
"""Arguments for every prompt that takes any; those of a module beside as ``module.name``."""

PARTS = {"number_hint", "SHIM_HINT", "INSIDE_NOISE", "tenths_words", "spindle_checks.quill_part"}
"""Pieces that only occur inside other prompts."""


def modules() -> list[tuple[str, ModuleType]]:
    """The modules of prompts, each with what its names are prefixed by in the list."""
    beside = sorted(found.name for found in pkgutil.iter_modules(prompts.__path__))
    return [
        ("", prompts),
        *((f"{name}.", importlib.import_module(f"{prompts.__name__}.{name}")) for name in beside),
    ]


def functions() -> dict[str, Callable[..., str]]:
    """All prompts that are functions."""
    return {
        f"{prefix}{name}": value
        for prefix, module in modules()
        for name, value in vars(module).items()
        if inspect.isfunction(value)
        and value.__module__ == module.__name__
        and not name.startswith("_")
    }


def constants() -> dict[str, str]:
    """All prompts that never change."""
    return {
        f"{prefix}{name}": value
        for prefix, module in modules()
        for name, value in vars(module).items()
        if name.isupper() and isinstance(value, str)
    }


def help_of_all_phases() -> list[str]:
    """The longest prompt there is, in every phase."""
    return [TypedJob.at(phase).say("help") for phase in Phase if phase is not Phase.CLOSED]


def keys_of_all_phases() -> list[str]:
    """The same for whoever asks by keypad."""
    return [TypedJob.at(phase).press("/ 2") for phase in Phase if phase is not Phase.CLOSED]


def listed() -> list[tuple[str, str]]:
    """Every prompt with its name, in the order of the modules."""
    told, made = constants(), functions()
    found: list[tuple[str, str]] = []
    for prefix, module in modules():
        for name in (f"{prefix}{plain}" for plain in vars(module)):
            if name in told:
                found.append((name, told[name]))
            elif name in made and name in SAMPLES:
                found += [(name, made[name](*arguments)) for arguments in SAMPLES[name]]
            elif name == "can_say":
                found += [(name, text) for text in dict.fromkeys(help_of_all_phases())]
            elif name == "keypad.can_press":
                found += [(name, text) for text in dict.fromkeys(keys_of_all_phases())]
    return found


def golden_text() -> str:
    """The list as it is kept."""
    return "".join(f"{name}: {text}\n" for name, text in listed())


if __name__ == "__main__":
    GOLDEN.write_text(golden_text(), encoding="utf-8")
