"""All prompts with sample arguments, for the golden list; run as a module, it writes the list.

``python -m tests.dialogue.prompt_list --seconds`` prints instead how long each takes to say.
"""

import importlib
import pkgutil
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from types import ModuleType

from assistant.dialogue import (
    methods,
    missed,
    pending,
    planner,
    returns,
    spoken,
    watching,
    wishes,
    wording,
)
from assistant.dialogue import procedures as package
from assistant.dialogue.job import JOB
from assistant.dialogue.methods import BAR_IN
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.setup import ALL_LOCKED
from grammar.meaning import Command
from grammar.scale import Scale
from tests.dialogue.typed import TypedJob

GOLDEN = Path(__file__).parent / "prompts.txt"

SAMPLES: dict[str, list[tuple[object, ...]]] = {
    "setup.set_up": [
        ("ten inches", "four thou"),
        ("two hundred fifty millimetres", "ten hundredths"),
        ("ten inches", "four thou", BAR_IN, ALL_LOCKED),
    ],
    "last_time.last_time": [
        ("knee mill", "three weeks ago", "square within four thou"),
        ("bench drill press", "Monday", "left six out", "two years ago"),
    ],
    "last_time.left_within": [("four thou",)],
    "last_time.left_out": [("six",)],
    "last_time.still_in": [(Decimal("1.5"), "above the bolt"), (Decimal(12), "under the back")],
    "setup.diameter": [("inches",), ("millimetres",)],
    "setup.tolerance": [("thou",), ("hundredths",)],
    "setup.brief": [("ten inches", "four thou")],
    "shim.loosen_and": [("Shim one and a half above the bolt. Fingers clear. Done?",)],
    "tap.slack": [("right",)],
    "tap.tap_to": [("right", True, Decimal("-3.5"))],
    "planner.should_leave": [("zero",)],
    "wording.say_instead": [("locked",), ("locked", "text"), ("locked", "keypad")],
    "wording.say_word": [("locked",)],
    "wording.wanted": [
        ("the number", False),
        ("the number", True, "text"),
        ("the number", True, "keypad"),
        ("plus or minus", True, "keypad"),
    ],
    "wishes.not_read": [("right",)],
    "wishes.voice_is": [("quiet",), ("talk",)],
    "wishes.at_its_end": [("louder",), ("softer",), ("slower",), ("faster",)],
    "wishes.within_now": [("three thou",)],
    "wishes.across_now": [("nine inches",)],
    "wishes.off": [("six", "Front high six.", "Plus or minus one and a half.")],
    "sweep.zero": [("back",)],
    "noise.relock": [("right",)],
    "noise.snug": [("right",)],
    "noise.hard": [("right",)],
    "sign_test.sign_test": [(False,), (True,)],
    "sign_test.higher_is": [("minus",)],
    "pending.counter": [("Front plus five?",)],
    "touch.last": [("back",)],
    "touch.dragged": [("front",)],
    "touch.high": [("front", "right"), ("left", None)],
    "touch.still": [("front",)],
    "touch.flipped": [("back",)],
    "touch.other_axis": [("right",)],
    "tap.tap_a_little": [("right",)],
    "touch.closed": [("high at the front", "all alike")],
    "methods.spots_apart": [("Dial", "an inch"), ("Rod", "thirty millimetres")],
    "methods.square_first": [("back",)],
    "square.which_end": [(Decimal(4),)],
    "gap.set_rod": [("back", Decimal(10))],
    "gap.rod_on": [(Decimal(15),)],
    "sweep.still_drags": [("back", Decimal(10))],
    "gap.which_not": [("front",)],
    "gap.goes_already": [(Decimal(12),)],
    "gap.between": [(Decimal(15), Decimal("16.5"))],
    "wording.finer_than_dial": [(Decimal("-1.2"), True), (Decimal("1.2"), False)],
    "wording.noted": [(Decimal("-1.5"),)],
    "wording.noted_now": [(Decimal("2"),)],
    "noise.settled": [("one", "one and a half", "two"), ("", "", "")],
    "wording.call": [("right",)],
    "sweep.which": [("left", Decimal(15), Decimal(50)), ("front", Decimal("6.5"), Decimal("-6.5"))],
    "wording.call_again": [("back",)],
    "wording.reading": [("front", Decimal("6.5")), ("left", Decimal(-12)), ("back", Decimal(0))],
    "sweep.corrected": [("front", Decimal("-0.5"))],
    "wording.taken_back": [("right",)],
    "pending.ask_sign": [(Decimal("2.25"),), (Decimal("2.25"), "left")],
    "pending.ask_reading": [("right", Decimal(15)), ("left", Decimal("-3.5"))],
    "pending.go_on": [
        ("bench drill press", "three weeks ago", Decimal(2)),
        ("knee mill", "", Decimal(0)),
    ],
    "pending.ask_shim": [(Decimal("1.5"), False), (Decimal(150), True)],
    "pending.ask_tenths": [
        ("front", Decimal("0.2"), Scale("thou", 30, Decimal("0.1"))),
        ("front", Decimal("0.2"), Scale("thou", 30, Decimal("0.5"))),
        ("left", Decimal(-20), Scale("mm", 50, Decimal(1))),
    ],
    "pending.ask_command": [(Command("finish"),), (Command("skip"),)],
    "sweep.drifted": [("back", "three")],
    "wording.not_now": [("done",), ("",)],
    "wording.high_side": [("front", "six")],
    "wording.axis_inside_noise": [("Side to side",)],
    "wording.plus_or_minus": [("one and a half", "the surface"), ("two", "")],
    "close.within": [("four thou",)],
    "wording.not_as_expected": [(Decimal("-0.5"), Decimal(4))],
    "shim.shim": [
        ((Decimal("1.5"),), Decimal("1.5"), "above"),
        ((Decimal("1.5"), Decimal(2)), Decimal("3.5"), "below"),
        ((Decimal("1.5"), Decimal(2)), Decimal("3.5"), "above", Decimal("1.5")),
        ((Decimal(2),), Decimal(2), "below", Decimal(5)),
        ((Decimal(3),), Decimal(3), "above", Decimal(-2)),
    ],
    "shim.shim_is": [(Decimal(3), "above"), (Decimal(0), None)],
    "tap.ease": [("right",)],
    "tap.tap": [("right", True, Decimal("-3.5"))],
    "wording.watch_this": [("right",)],
    "tap.tap_past": [("one and a half", False), ("half", True)],
    "tap.lock_and_call": [("right",)],
    "tap.locked_and": [("right",)],
    "tap.locking_moved": [(Decimal("-2.5"),)],
    "tap.locking_jumped": [(Decimal(5),)],
    "sides.once_more": [("right",)],
    "watching.before_moving": [("right",)],
    "watching.before_moving_briefly": [("front",)],
    "tap.tap_more": [("two", True)],
    "tap.tap_back": [("one and a half", False)],
    "close.closed": [("fourteen and a half", "half")],
    "wording.device_lost": [("microphone",)],
    "wording.device_back": [("microphone",)],
    "noise.tighten_again": [("right",)],
    "head.nod": [(True, Decimal("-4.5")), (False, Decimal(6))],
    "head.tilt": [(True, Decimal(3)), (False, Decimal(-2))],
    "head.more": [("two",)],
    "head.back": [("half",)],
    "head.clamp_head": [("front",)],
    "head.clamp_table": [("right",)],
    "head.pulled": [(Decimal("-1.5"),)],
    "heights.differs": [("two",)],
    "form.corner": [("back right",), ("front left",)],
    "form.corner_is": [("back right", Decimal("-1.5"))],
    "form.corner_taken_back": [("front right",)],
    "form.form_moved": [("back",)],
    "form.warp": [("front and back", "three"), ("back right and front left", "two")],
    "form.hollow": [("one and a half",)],
    "form.gap_is_rough": [("one and a half",)],
    "wording.number_hint": [("front",), (None,)],
    "wording.shim_hint": [(True,), (False,)],
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
    "repeat.sweep_again": [("an inch",), ("thirty millimetres",), ("",)],
    "repeat.refit_again": [("half an inch",), ("",)],
    "spindle.lower": [("four inches",), ("one hundred millimetres",)],
    "spindle.swing": [(Decimal("2.5"),)],
    "spindle.runout": [(Decimal(2), Decimal("5.5"))],
    "spindle.shake": [(Decimal(3),)],
    "spindle.end_play": [(Decimal(3),)],
    "spindle.stays": [(Decimal("1.5"),)],
    "spindle.quill_back": [("two inches",)],
    "spindle.quill_right": [("fifty millimetres",)],
    "spindle.quill_runs": [("two back and one left",)],
    "spindle.quill_part": [(Decimal(-2), "left")],
    "wording.leans": [
        ("two inch", "one thou", "front"),
        ("fifty millimetre", "half a hundredth", "back left"),
    ],
    "wording.leans_under": [("two inch", "half a thou")],
    "wording.bad_entry": [()],
    "wording.status": [(Decimal(1), Decimal(2), "", ""), (Decimal(3), Decimal(0), "six", "two")],
}
"""Arguments for every prompt that takes any; by module and name."""

PARTS = {
    "wording.number_hint",
    "wording.shim_hint",
    "wording.say_word",
    "wording.THE_NUMBER",
    "wording.THE_SIGN",
    "wording.INSIDE_NOISE",
    "pending.tenths_words",
    "last_time.left_within",
    "last_time.left_out",
    "last_time.NOT_FINISHED",
    "last_time.NOT_PROVEN",
    "spindle.quill_part",
}
"""Pieces that only occur inside other prompts."""


def modules() -> list[ModuleType]:
    """The modules that speak, the shared words first and then the procedures of a job."""
    procedures = [
        importlib.import_module(f"{package.__name__}.{found.name}")
        for found in pkgutil.iter_modules(package.__path__)
    ]
    others = [wording, methods, pending, planner, missed, returns, watching, wishes]
    return [*others, *procedures]


def _short(module: ModuleType) -> str:
    return module.__name__.rpartition(".")[2]


def functions() -> dict[str, Callable[..., str]]:
    """All prompts that are functions."""
    return {
        f"{_short(module)}.{name}": make
        for module in modules()
        for name, make in spoken.made(module).items()
    }


def constants() -> dict[str, str]:
    """All prompts that never change."""
    return {
        f"{_short(module)}.{name}": text
        for module in modules()
        for name, text in spoken.fixed(module).items()
    }


def help_of_all_phases() -> list[str]:
    """The longest prompt there is, in every phase."""
    asked = Command("help")
    phases = [phase for phase in JOB.table if phase is not Close.CLOSED]
    return [TypedJob.at(phase).hear("help", asked) for phase in phases]


def keys_of_all_phases() -> list[str]:
    """The same for whoever asks by keypad."""
    return [TypedJob.at(phase).press("/ 2") for phase in JOB.table if phase is not Close.CLOSED]


def listed() -> list[tuple[str, str]]:
    """Every prompt with its name, in the order of the modules."""
    told, made = constants(), functions()
    found: list[tuple[str, str]] = []
    for module in modules():
        for name in (f"{_short(module)}.{plain}" for plain in vars(module)):
            if name in told:
                found.append((name, told[name]))
            elif name in made and name in SAMPLES:
                found += [(name, made[name](*arguments)) for arguments in SAMPLES[name]]
            elif name == "wording.can_say":
                found += [(name, text) for text in dict.fromkeys(help_of_all_phases())]
            elif name == "wording.can_press":
                found += [(name, text) for text in dict.fromkeys(keys_of_all_phases())]
    return found


def golden_text() -> str:
    """The list as it is kept."""
    return "".join(f"{name}: {text}\n" for name, text in listed())


def print_seconds() -> None:
    """Every prompt at its longest, as the usual voice speaks it: seconds, the longest first."""
    from assistant.devices.voice.speech_engine import VoiceSettings, open_engine

    longest: dict[str, str] = {}
    for name, text in listed():
        if name not in PARTS and len(text) > len(longest.get(name, "")):
            longest[name] = text
    engine, told = open_engine(), []
    for name, text in longest.items():
        speech = engine.synthesise(text, VoiceSettings())
        told.append((len(speech.samples) / speech.rate, name, text))
    for seconds, name, text in sorted(told, reverse=True):
        sys.stdout.write(f"{seconds:5.1f} s  {name}: {text}\n")
    whole = sum(seconds for seconds, *_ in told)
    sys.stdout.write(f"{whole / len(told):5.1f} s  the mean of {len(told)}\n")


if __name__ == "__main__":
    if "--seconds" in sys.argv[1:]:
        print_seconds()
    else:
        GOLDEN.write_text(golden_text(), encoding="utf-8")
