"""A job on the screen, for the tests in a real terminal: the dialogue, keys and typed words.

No record, no sound. Ends with control-C. Argument: a theme's name.
"""

import os
import queue
import sys
from typing import cast

from assistant.devices.keys.keypad import EndOfInput, Interrupt, Key, Line, Stroke, Talk
from assistant.devices.screen.palette import ThemeName
from assistant.devices.screen.terminal import Screen
from assistant.devices.screen.terminal_colours import terminal_colours
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Event, Heard, KeyPressed, Started
from assistant.dialogue.step import step
from assistant.dialogue.view import view
from grammar.meaning import Unclear
from grammar.parse import parse

AT = "2026-03-01T10:00:00.000Z"


def main() -> None:
    """Run the dialogue on the screen until control-C."""
    theme = cast("ThemeName", sys.argv[1] if len(sys.argv) > 1 else "dark")
    strokes: queue.Queue[Stroke] = queue.Queue()
    state, _ = step(None, Started(AT, "job", Profile()))
    colours = terminal_colours(os.environ)
    with Screen(
        strokes.put, theme=theme, colours=colours, stdin=sys.stdin, stdout=sys.stdout
    ) as screen:
        screen.update(level_db=-24.0, speaking=False)
        screen.show(view(state))
        while True:
            event: Event
            match strokes.get():
                case Interrupt() | EndOfInput():
                    break
                case Talk():
                    screen.update(level_db=-24.0, speaking=True)
                    continue
                case Key(name=name):
                    event = KeyPressed(AT, state.turn, name)
                case Line(text=text):
                    meaning = parse(text, state.profile.scale)
                    unclear = isinstance(meaning, Unclear)
                    event = Heard(
                        AT, state.turn, "text", "reject" if unclear else "accept", text, meaning
                    )
            state, _ = step(state, event)
            screen.show(view(state))


if __name__ == "__main__":
    main()
