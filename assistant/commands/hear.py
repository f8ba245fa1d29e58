"""The ``hear`` command: recordings through the same ears as a job."""

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Literal, TextIO

from assistant.devices.ears.engines import Engine, chosen, instead_of_the_leading
from assistant.devices.ears.hearing import Ears, Utterance
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.verify import verify
from assistant.devices.sound.files import SoundFileError, read_blocks, without_long_silence
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import offer as phase_offer
from assistant.records.names import message_line, one_line
from grammar.meaning import (
    Command,
    Meaning,
    OffScale,
    Reading,
    Shim,
    Side,
    Sign,
    Size,
    Unclear,
    Wish,
)
from grammar.offer import Offer, everything
from grammar.scale import Scale, System
from grammar.vocabulary import COMMANDS

Expect = Literal["reading", "command", "any"]


def run_hear(
    files: Sequence[str],
    *,
    unit: System,
    reach: int,
    expect: Expect,
    engine: Engine,
    as_json: bool,
    out: TextIO,
    err: TextIO,
) -> int:
    """Hear every file and print one line for each utterance; 0 when all could be read.

    ``reach``: the largest count that can be called, 1 to 999 thou or hundredths of a
    millimetre. A file that cannot be read gives one line on ``err``; the others go on.
    """
    try:
        offer = offered(expect, Scale(unit, reach))
        found = chosen(engine)
        ears = Ears(found.recogniser, verify)
        ears.arm(offer)
    except ValueError as error:
        err.write(f"{error}\n")
        return 2
    except RecogniserError as error:
        err.write(f"{error}\n")
        return 1
    if found.instead:
        err.write(f"{instead_of_the_leading(found)}\n")
    failed = False
    wide = min(MOST_NAME, max(len(FILE), *(len(one_line(name)) for name in files)))
    if not as_json:
        out.write(f"{FILE:{wide}}  {HEADING}")
    for name in files:
        try:
            heard = list(hear_file(ears, name))
        except SoundFileError as error:
            err.write(f"{message_line(str(error))}\n")
            failed = True
            continue
        for utterance in heard:
            row = as_dict(name, utterance, unit)
            out.write(json.dumps(row) + "\n" if as_json else table_line(row, wide))
        out.flush()
    return 1 if failed else 0


def offered(expect: Expect, scale: Scale) -> Offer:
    """What is listened for."""
    match expect:
        case "reading":
            # What a sweep arms is the phase table's business, here as at the bench.
            return phase_offer(Sweeping.SWEEP, scale)
        case "command":
            return Offer(scale, COMMANDS, shim=True)
        case "any":
            return everything(scale)


def hear_file(ears: Ears, path: str) -> Iterator[Utterance]:
    """The utterances of one recording, its times counted from its beginning."""
    ears.start_over()
    out_s = 0.0
    for out_s, block in without_long_silence(read_blocks(path)):
        yield from (_later(heard, out_s) for heard in _learnt(ears, ears.feed(block)))
    yield from (_later(heard, out_s) for heard in _learnt(ears, ears.flush()))


def _learnt(ears: Ears, found: list[Utterance]) -> list[Utterance]:
    """Nobody can be asked, or take a call back: what is accepted counts as meant."""
    for heard in found:
        if heard.outcome == "accept":
            ears.recogniser.confirm(heard.decoded)
    return found


def _later(heard: Utterance, by_s: float) -> Utterance:
    return replace(heard, start_s=heard.start_s + by_s, end_s=heard.end_s + by_s)


def as_dict(name: str, heard: Utterance, unit: System) -> dict[str, object]:
    """One utterance in the contracted form."""
    meaning = heard.meaning
    value = value_text(meaning, unit)
    return {
        "file": name,
        "start_s": round(heard.start_s, 3),
        "end_s": round(heard.end_s, 3),
        "outcome": heard.outcome,
        "kind": _kind(meaning),
        "words": heard.words,
        "station": meaning.station if isinstance(meaning, Reading | OffScale) else None,
        "value": value,
        "unit": unit if value is not None else None,
        "command": _command(meaning),
        "off_dial": meaning.reason if isinstance(meaning, OffScale) else None,
        "place": meaning.place if isinstance(meaning, Shim) else None,
        "correction": isinstance(meaning, Reading) and meaning.correction,
        "confidence": round(heard.confidence, 3),
        "decode_s": round(heard.decode_s, 3),
        "snr_db": round(heard.snr_db, 1),
        "alternatives": [
            {
                "words": other.words,
                "value": value_text(other.meaning, unit),
                "confidence": round(other.confidence, 3),
            }
            for other in heard.alternatives
        ],
    }


def _kind(meaning: Meaning) -> str | None:
    match meaning:
        case Reading():
            return "reading"
        case Command() | Shim() | Sign():
            return "command"
        case Size() | Side() | OffScale() | Wish() | Unclear():
            return None


def _command(meaning: Meaning) -> str | None:
    match meaning:
        case Command(name=name) | Sign(name=name):
            return name
        case Shim():
            return "shim"
        case _:
            return None


def value_text(meaning: Meaning, unit: System) -> str | None:
    """The value in ``unit`` as a decimal string, with a sign when one was said.

    >>> value_text(Reading(Decimal("-6.5"), signed=True), "thou")
    '-6.5'
    >>> value_text(Reading(Decimal("6"), signed=True), "mm")
    '+0.06'
    """
    match meaning:
        case Reading(value=value, signed=signed) | OffScale(value=value, signed=signed):
            number = _in_unit(value, unit)
            return f"+{number}" if signed and value > 0 else number
        case Shim(total=total):
            return _in_unit(total, unit)
        case _:
            return None


def _in_unit(counts: Decimal, unit: System) -> str:
    value = counts if unit == "thou" else counts / 100
    return format(value.normalize(), "f") if value else "0"


FILE = "file"
MOST_NAME = 40
"""Of a longer name its end is shown."""

HEADING = f"{'from':>8} {'to':>8}  {'outcome':7} {'sure':>5}  {'value':>8}  words\n"


def table_line(row: dict[str, object], wide: int) -> str:
    """One utterance as a line for people; ``wide``: columns of the file's name."""
    name = one_line(str(row["file"]))
    shown = name if len(name) <= wide else f"…{name[1 - wide :]}"
    value = row["value"] if row["value"] is not None else row["command"] or ""
    return (
        f"{shown:{wide}}  {row['start_s']:8.2f} {row['end_s']:8.2f}  {row['outcome']:7} "
        f"{row['confidence']:5.2f}  {value!s:>8}  {row['words']}\n"
    )


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay hear``."""
    return run_hear(
        arguments.files, unit=arguments.unit, reach=arguments.reach, expect=arguments.expect,
        engine=arguments.engine, as_json=arguments.json, out=sys.stdout, err=sys.stderr,
    )  # fmt: skip
