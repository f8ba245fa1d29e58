"""The job by typed words: lines in, prompts or JSON lines out."""

from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Literal, TextIO

from assistant.devices.lines import (
    effect_json,
    event_json,
    event_of,
    print_line,
    print_say,
    typed,
)
from assistant.dialogue.messages import Effect, Event, Say
from assistant.dialogue.machine import Profile
from assistant.records.codec import write_event
from assistant.records.journal import Journal
from assistant.run import Loop, now

VoiceKind = Literal["speaker", "text", "off"]


def run_typed(
    profile: Profile,
    record: Path,
    *,
    say: Callable[[str], None] | None,
    as_json: bool,
    stdin: TextIO,
    stdout: TextIO,
) -> int:
    """Play a job from the lines of ``stdin``; end of input saves it and returns 0.

    ``say`` speaks a prompt; None prints it as a line (nothing is printed in its place when
    ``as_json``, since every effect is printed then). Raises RecordError.
    """

    def perform(effect: Effect) -> None:
        if as_json:
            print_line(stdout, effect_json(effect, profile.scale))
        if isinstance(effect, Say):
            if say is not None:
                say(effect.text)
            elif not as_json:
                print_say(stdout, effect.text)

    def committed(event: Event) -> None:
        if as_json:
            stdout.write(event_json(event, write_event(event)) + "\n")
            stdout.flush()

    with ExitStack() as stack:
        journal = stack.enter_context(Journal.open(record))
        loop = Loop(journal, profile, perform, committed)
        loop.open_job()
        for line in typed(stdin):
            state = loop.state
            if loop.over or state is None:
                break
            loop.post(event_of(line, now(), state.turn, state.profile.scale))
    return 0
