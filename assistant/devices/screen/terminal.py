"""The terminal as a screen: draws a picture whenever the view changes, and hands keys on.

Nothing is decided here. The screen runs on a thread of its own; showing is only a matter of
leaving the newest view for it.
"""

import asyncio
import contextlib
import threading
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from types import TracebackType
from typing import Any, TextIO

from prompt_toolkit.application import Application
from prompt_toolkit.data_structures import Size
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.input import Input, create_input
from prompt_toolkit.key_binding import KeyPress
from prompt_toolkit.layout import FormattedTextControl, Layout, Window
from prompt_toolkit.output import ColorDepth, Output, create_output
from prompt_toolkit.styles import Style

from assistant.devices.faults import DeviceFault
from assistant.devices.keys.keypad import EndOfInput, KeyDecoder, Stroke
from assistant.devices.screen.palette import Colours, ThemeName, style_rules
from assistant.devices.screen.picture import Moment, picture
from assistant.devices.sound.lifeline import Report
from assistant.dialogue.view import View

LEAST_S = 0.08
"""Drawing more often than this is work that nobody sees."""

SIZE_S = 0.2
"""How often the size of the terminal is looked at."""

STUCK_S = 5.0
"""A terminal that takes nothing for so long counts as lost."""

METER_STEP_DB = 3.0
"""The meter is drawn again when the level has moved this much."""


DEPTHS: dict[Colours, ColorDepth | None] = {
    "many": None, "sixteen": ColorDepth.DEPTH_4_BIT, "none": ColorDepth.DEPTH_1_BIT,
}  # fmt: skip


class _Diverted(Input):
    """A terminal's input whose keys go to the keypad's decoder and nowhere else."""

    def __init__(self, source: Input, told: Callable[[list[KeyPress]], None]) -> None:
        self._source = source
        self._told = told

    def fileno(self) -> int:
        return self._source.fileno()

    def typeahead_hash(self) -> str:
        return self._source.typeahead_hash()

    def read_keys(self) -> list[KeyPress]:
        self._told(self._source.read_keys())
        return []

    def flush_keys(self) -> list[KeyPress]:
        self._told(self._source.flush_keys())
        return []

    @property
    def closed(self) -> bool:
        return self._source.closed

    def raw_mode(self) -> AbstractContextManager[None]:
        return self._source.raw_mode()

    def cooked_mode(self) -> AbstractContextManager[None]:
        return self._source.cooked_mode()

    def attach(self, input_ready_callback: Callable[[], None]) -> AbstractContextManager[None]:
        return self._source.attach(input_ready_callback)

    def detach(self) -> AbstractContextManager[None]:
        return self._source.detach()

    def close(self) -> None:
        self._source.close()


class Screen:
    """A full screen in a terminal, with the terminal's keys.

    ``told`` gets every stroke, from the screen's thread. ``report`` is told the reason when the
    terminal takes nothing more or drawing fails, and None when it works again; ``failed`` says
    that it never will. ``source`` and ``output`` replace the terminal, for tests. Raises
    ``DeviceFault`` when there is no terminal.
    """

    def __init__(
        self,
        told: Callable[[Stroke], None],
        report: Report = lambda _: None,
        *,
        theme: ThemeName = "dark",
        colours: Colours = "many",
        stdin: TextIO | None = None,
        stdout: TextIO | None = None,
        source: Input | None = None,
        output: Output | None = None,
    ) -> None:
        if source is None or output is None:
            if stdin is None or stdout is None or not (stdin.isatty() and stdout.isatty()):
                raise DeviceFault(
                    "screen", "this is not a terminal", "start sweepsay in a terminal window"
                )
            source, output = create_input(stdin), create_output(stdout)
        encoding = (output.encoding() or "ascii").lower().replace("-", "")
        self._fine = encoding.startswith("utf")
        self._told = told
        self._report = report
        self.failed = False
        self._lost = False
        self._beat_at: float | None = None
        self._decoder = KeyDecoder()
        self._view: View | None = None
        # Nobody is said to listen before that is known.
        self._moment = Moment(hears=False)
        self._drawn_level: float | None = None
        self._drawn_size: Size | None = None
        self._output = output
        self._input = _Diverted(source, self._keys)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ready = threading.Event()
        self._application: Application[None] = Application(
            layout=Layout(
                Window(FormattedTextControl(self._text, show_cursor=False), style="class:ground")
            ),
            style=Style.from_dict(style_rules(theme, colours)),
            color_depth=DEPTHS[colours],
            full_screen=True,
            input=self._input,
            output=output,
            min_redraw_interval=LEAST_S,
            terminal_size_polling_interval=None,
            mouse_support=False,
        )
        self._thread = threading.Thread(target=self._run, name="screen", daemon=True)

    def __enter__(self) -> "Screen":
        self._thread.start()
        self._ready.wait(5.0)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        loop = self._loop
        if loop is not None and self._thread.is_alive():
            with contextlib.suppress(RuntimeError):
                loop.call_soon_threadsafe(self._exit)
            self._thread.join(3.0)

    def show(self, view: View) -> None:
        """Draw this view soon; from any thread."""
        self._view = view
        self._draw_soon()

    def update(
        self,
        *,
        level_db: float | None,
        speaking: bool,
        hears: bool = True,
        keyed: str = "",
        leaves: bool = False,
    ) -> None:
        """What the devices are doing now; drawn again only when it is seen. Any thread."""
        before = self._moment
        after = replace(
            before, level_db=level_db, speaking=speaking, hears=hears, keyed=keyed, leaves=leaves
        )
        self._moment = after
        moved = _moved(self._drawn_level, level_db)
        if moved or replace(after, level_db=None) != replace(before, level_db=None):
            self._drawn_level = level_db
            self._draw_soon()

    def _draw_soon(self) -> None:
        """From any thread, also when the screen has just ended."""
        loop = self._loop
        if loop is None or self.failed:
            return
        # The loop is closed when the terminal went away a moment ago.
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(self._redraw)

    def _redraw(self) -> None:
        if self._application.is_running:
            self._application.invalidate()

    def _text(self) -> StyleAndTextTuples:
        view = self._view
        if view is None:
            return []
        size = self._drawn_size = self._output.get_size()
        # The last column stays empty: some terminals break the line there.
        rows = picture(view, self._moment, size.columns - 1, size.rows, fine=self._fine)
        text: StyleAndTextTuples = []
        for number, row in enumerate(rows):
            if number:
                text.append(("", "\n"))
            text += [(f"class:{role}", part) for role, part in row]
        return text

    def _keys(self, presses: list[KeyPress]) -> None:
        for stroke in self._decoder.feed(presses, time.monotonic()):
            self._told(stroke)
        if self._decoder.words != self._moment.words:
            self._moment = replace(self._moment, words=self._decoder.words)
            self._application.invalidate()
        if self._input.closed:
            self._told(EndOfInput())

    def _run(self) -> None:
        async def main() -> None:
            self._loop = asyncio.get_running_loop()
            self._loop.set_exception_handler(lambda _, context: self._broke(context))
            watch = asyncio.create_task(self._watch_size())
            try:
                await self._application.run_async(
                    pre_run=self._ready.set, handle_sigint=False, set_exception_handler=False
                )
            finally:
                watch.cancel()

        try:
            asyncio.run(main())
        except EOFError:
            self._told(EndOfInput())
        except Exception as error:  # noqa: BLE001 - a screen that ends without a word takes the keys along
            self._broke({"exception": error})
        finally:
            self._beat_at = None
            self._ready.set()

    def _broke(self, context: dict[str, Any]) -> None:
        """Drawing failed: the terminal is given up, once."""
        if self.failed:
            return
        self.failed = True
        error = context.get("exception")
        self._report(str(error or context.get("message") or "it cannot be drawn on"))
        self._exit()

    def check(self) -> None:
        """Say once when the terminal takes nothing, and when it does again; for the watch."""
        beat_at = self._beat_at
        stuck = beat_at is not None and time.monotonic() - beat_at > STUCK_S
        if stuck != self._lost and not self.failed:
            self._lost = stuck
            self._report("the terminal takes nothing more" if stuck else None)

    async def _watch_size(self) -> None:
        """Redraw in another size: its signal is for the main thread only."""
        while True:
            self._beat_at = time.monotonic()
            await asyncio.sleep(SIZE_S)
            if self._drawn_size not in (None, self._output.get_size()):
                self._application.invalidate()

    def _exit(self) -> None:
        if self._application.is_running:
            self._application.exit()


def _moved(before: float | None, after: float | None) -> bool:
    if before is None or after is None:
        return before is not after
    return abs(before - after) >= METER_STEP_DB
