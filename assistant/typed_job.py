"""The job by typed words: lines in, prompts or JSON lines out."""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TextIO

from assistant.devices.lines import (
    effect_json,
    event_of,
    print_event,
    print_line,
    print_say,
    typed,
)
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Event, Say
from assistant.records.codec import write_event
from assistant.records.journal import Journal
from assistant.run import Loop, Machines, now


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
) -> int:
    """Play a job from the lines of ``stdin``; end of input saves it and returns 0.

    ``silent``: prompts are not printed. ``as_json``: every event and effect is a JSON line
    instead. Raises RecordError.
    """

    def perform(effect: Effect) -> None:
        if as_json:
            print_line(stdout, effect_json(effect, loop.profile.scale))
        elif isinstance(effect, Say) and not silent:
            print_say(stdout, effect.text)

    def committed(event: Event) -> None:
        if as_json:
            print_event(stdout, write_event(event))

    with ExitStack() as stack:
        journal = stack.enter_context(Journal.open(record))
        loop = Loop(journal, profile, perform, committed, remember, machines)
        loop.open_job()
        lines = typed(stdin)
        # Asked before each line: a job that is over does not wait for another one.
        while not loop.over and (line := next(lines, None)) is not None:
            state = loop.state
            if state is not None:
                loop.post(event_of(line, now(), state.turn, state.profile.scale))
    return 0
