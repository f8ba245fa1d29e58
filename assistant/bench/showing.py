"""What the person at the bench can read: a full screen, or lines at a terminal.

All that is said is shown, so that whoever hears nothing misses nothing; how the job ended and
what went wrong under the screen is printed when the screen is gone.
"""

from dataclasses import replace
from typing import TextIO

from assistant.bench.caption import Caption
from assistant.bench.wishes import Wishes
from assistant.devices.screen.plain_screen import changes
from assistant.devices.screen.terminal import Screen
from assistant.devices.text.lines import say_line
from assistant.devices.text.printer import Printer
from assistant.dialogue.messages import Event, KeyPressed
from assistant.dialogue.state import State
from assistant.dialogue.view import View, view
from assistant.records.names import one_line


class Showing:
    """The screen if there is one, and the lines that are printed in its place.

    ``out`` and ``err`` print lines; ``stdin`` tells whether a person sits at a terminal. The
    loop's thread only, but for ``tell`` and ``urgent``.
    """

    def __init__(self, wishes: Wishes, stdin: TextIO, out: Printer, err: Printer) -> None:
        self.caption = Caption()
        self.screen: Screen | None = None
        self._wishes = wishes
        self._out, self._err = out, err
        self._in_lines = stdin.isatty() and not wishes.as_json
        self._view: View | None = None
        self._untold: list[str] = []

    @property
    def drawn(self) -> bool:
        """Whether there is a screen that can be drawn on."""
        return self.screen is not None and not self.screen.failed

    def draw(self, state: State) -> None:
        """Show this state, with what was said last."""
        shown = replace(view(state), said=self.caption.said)
        if self.screen is not None and self.drawn:
            self.screen.show(shown)
        elif self._in_lines:
            for line in changes(self._view, shown):
                self._out.line(line)
        self._view = shown

    def before(self, state: State | None, event: Event) -> None:
        """An event is about to be answered in this state."""
        self.caption.before(state, event)
        keyed = self.caption.keyed if isinstance(event, KeyPressed) else ""
        if keyed and self._in_lines and not self.drawn:
            self._out.line(f"Keyed: {keyed}")

    def update(
        self, *, level_db: float | None, speaking: bool, hears: bool, leaves: bool = False
    ) -> None:
        """What the devices are doing now, beside the state."""
        if self.screen is not None:
            self.screen.update(
                level_db=level_db, speaking=speaking, hears=hears, keyed=self.caption.keyed,
                leaves=leaves,
            )  # fmt: skip

    def say(self, text: str) -> None:
        """This is said: kept for the screen, or printed where there is none."""
        self.caption.say(text)
        # Whoever wants no voice at a terminal reads what it would have said.
        silent = self._wishes.voice == "off" and not self._in_lines
        if not silent and not self._wishes.as_json and not self.drawn:
            self._out.line(say_line(text))

    def urgent(self, text: str) -> None:
        """Show this while the loop's thread is held up; any thread."""
        if self.screen is not None and self._view is not None:
            self.screen.show(replace(self._view, said=text))

    def tell(self, problem: str) -> None:
        """Print a line about what is wrong; any thread. Under a screen it waits for the end."""
        line = f"sweepsay: {one_line(problem, 400)}"
        if not self.drawn:
            self._err.line(line)
        elif line not in self._untold:
            self._untold.append(line)

    def farewell(self, *, over: bool) -> tuple[list[str], list[str]]:
        """What to print when the screen is gone: how the job ended, and what went wrong."""
        if self.screen is None:
            return [], []
        told = [self.caption.said] if over and self.caption.said else []
        found = self._view.result if self._view is not None else ""
        if told and found and found not in told[0]:
            told.append(f"As left: {found}")
        return told, self._untold
