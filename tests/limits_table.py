"""The limits that DEVELOPERS.md states, from the constants that hold them."""

from assistant.bench import live_bench
from assistant.devices.ears import listener
from assistant.devices.ears.endpoint import EndpointRule
from assistant.devices.ears.vosk import model_archive, model_download
from assistant.devices.screen import terminal as screen
from assistant.devices.sound import files as sound_file
from assistant.devices.sound import library as sound_library
from assistant.devices.sound import microphone
from assistant.devices.sound.lifeline import Lifeline, Patience
from assistant.devices.text import lines, printer
from assistant.devices.voice import synthesis as voice
from assistant.records import export, names
from assistant.records.journal import codec, soundness
from assistant.records.machines import machine_toml
from assistant.records.readings import readings_file
from grammar import numerals, parse


def limits() -> str:
    """What is refused, as a table."""
    hours = sound_file.LONGEST_S // 3600
    rule = EndpointRule()
    waiting_s = microphone.LONGEST_QUEUE * sound_library.BLOCK_S["microphone"]
    return _table(
        ("what", "limit"),
        ("recording for `hear`: length", f"{hours} hours"),
        (
            "recording: samples a second",
            f"{sound_file.LOWEST_RATE:,} to {sound_file.HIGHEST_RATE:,}",
        ),
        ("recording: channels", f"{sound_file.MOST_CHANNELS}"),
        ("utterance; beyond it is talk", f"{rule.longest_s:g} s"),
        ("talk key held", f"{listener.LONGEST_TALK_S:g} s"),
        ("sound that waits to be heard", f"{waiting_s:g} s"),
        ("words of an utterance", f"{parse.MAX_WORDS}"),
        ("number that can be called", f"{numerals.LARGEST}"),
        ("typed line; the rest is left out", f"{lines.LONGEST_LINE} characters"),
        ("lines that wait for a reader", f"{printer.MOST_LINES:,}"),
        ("readings file", f"{readings_file.MAX_CHARACTERS:,} characters"),
        ("machine's file", f"{machine_toml.MAX_CHARACTERS:,} characters"),
        ("name of a machine or job", f"{names.MAX_NAME} characters"),
        (
            "exported job that is taken in",
            f"{export.MAX_EXPORT_BYTES:,} bytes, {export.MAX_EVENTS:,} events",
        ),
        ("one event in the record", f"{codec.MAX_ROW_CHARACTERS:,} characters"),
        ("model archive", f"{model_download.LARGEST:,} bytes"),
        (
            "model unpacked",
            f"{model_archive.LARGEST_UNPACKED:,} bytes, {model_archive.MOST_EXPANDED} times the "
            f"archive, {model_archive.MOST_FILES:,} files",
        ),
    )


def times() -> str:
    """What is given up or told, and when, as a table."""
    patience, server = Patience(), model_download.ServerPatience()
    return _table(
        ("what is waited for", "at most"),
        ("a sound device that is opened", f"{Lifeline.OPEN_S:g} s"),
        ("a sound device that is closed or asked", f"{Lifeline.CALL_S:g} s"),
        ("its first block, its next block", f"{patience.start:g} s, {patience.silence:g} s"),
        ("another process that lists devices", f"{sound_library.LISTING_S:g} s"),
        ("the recogniser to start", f"{listener.START_S:g} s"),
        ("the recogniser's answer", f"{listener.ANSWER_S:g} s"),
        (
            "the speech library to start, to speak",
            f"{voice.START_LIMIT_S:g} s, {voice.SYNTHESIS_LIMIT_S:g} s",
        ),
        ("a terminal or a program that takes lines", f"{printer.STUCK_S:g} s"),
        ("a terminal that is drawn on", f"{screen.STUCK_S:g} s"),
        ("the disk, before the person is told to wait", f"{live_bench.SLOW_DISK_S:g} s"),
        ("another program that holds the record", f"{soundness.BUSY_S:g} s"),
        ("the check of the record at the start", f"{soundness.CHECK_S:g} s"),
        ("the end of an utterance", f"{EndpointRule().patience_s:g} s"),
        ("a server that gives a model", f"{server.stall_s:g} s, {server.tries} times"),
    )


def _table(head: tuple[str, str], *rows: tuple[str, str]) -> str:
    lines_of = [f"| {left} | {right} |" for left, right in rows]
    return "\n".join([f"| {head[0]} | {head[1]} |", "|---|---|", *lines_of])
