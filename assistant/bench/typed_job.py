"""The job by typed words: lines in, prompts or JSON lines out."""

from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import TextIO

from assistant.bench.loop import Loop, Machines, last_lines, last_words
from assistant.bench.timekeeping import ClockWatch, now
from assistant.devices.text.lines import (
    effect_json,
    event_line,
    event_of,
    json_line,
    print_line,
    say_line,
    typed,
)
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Event, Say
from assistant.records.faults import RecordError
from assistant.records.journal.codec import write_event
from assistant.records.journal.journal import Journal
from assistant.records.names import one_line
from grammar.scale import Scale


def run_typed(
    profile: Profile,
    record: Path,
    *,
    silent: bool,
    remember: Callable[[Profile], None] | None = None,
    machines: Machines | None = None,
    as_json: bool,
    stdin: TextIO,
    stdout: TextIO,
    stderr: TextIO,
) -> int:
    """Play a job from the lines of ``stdin``; end of input saves it and returns 0.

    ``silent``: prompts are not printed, except to somebody at a terminal. ``as_json``: every
    event and effect is a JSON line instead. ``stderr``: for what is wrong with the record.
    Raises RecordError when record or machine cannot be used, after saying so.
    """

    def tell(effect: Effect, scale: Scale) -> None:
        if as_json:
            print_line(stdout, json_line(effect_json(effect, scale)))
        elif isinstance(effect, Say) and (not silent or stdin.isatty()):
            print_line(stdout, say_line(effect.text))

    def perform(effect: Effect) -> None:
        tell(effect, loop.profile.scale)

    def committed(event: Event) -> None:
        if as_json:
            print_line(stdout, event_line(write_event(event)))

    def problem(text: str) -> None:
        # An error stream that takes nothing is no reason to stop a job.
        with suppress(OSError):
            print_line(stderr, f"sweepsay: {one_line(text, 400)}")

    try:
        with ExitStack() as stack:
            journal = stack.enter_context(Journal.open(record))
            loop = Loop(
                journal, profile, perform, committed, remember, machines,
                problem=problem, clock_set=ClockWatch().set_by_s,
            )  # fmt: skip
            loop.open_job()
            lines = typed(stdin)
            # Asked before each line: a job that is over does not wait for another one.
            while not loop.over and (line := next(lines, None)) is not None:
                state = loop.state
                if state is not None:
                    loop.post(event_of(line, now(), state.turn, state.profile.scale))
            for text in last_lines(loop):
                problem(text)
    except RecordError as error:
        tell(Say(last_words(error)), profile.scale)
        raise
    return 0
