"""The terminal's keyboard, read key by key on a thread of its own.

Which key is which is ``keypad``'s business.
"""

import asyncio
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import TextIO

from prompt_toolkit.input import Input, create_input
from prompt_toolkit.key_binding import KeyPress

from assistant.devices.faults import DeviceFault
from assistant.devices.keys.keypad import EndOfInput, KeyDecoder, Stroke
from assistant.devices.sound.lifeline import Report

FLUSH_S = 0.05
"""When an ESC without a sequence is taken to be the key itself."""


class TerminalKeys:
    """Puts the terminal into raw mode and tells every stroke, until it is closed.

    ``told`` is called from the thread. ``echo`` shows the line of words that is being typed
    (keypad keys are answered by tone or voice, and not echoed). ``report`` is told the reason
    when reading fails. ``source`` is prompt_toolkit's input, for tests; without it ``stdin``
    must be a terminal.
    """

    def __init__(
        self,
        told: Callable[[Stroke], None],
        report: Report = lambda _: None,
        *,
        stdin: TextIO | None = None,
        source: Input | None = None,
        echo: TextIO | None = None,
    ) -> None:
        if source is None:
            if stdin is None or not stdin.isatty():
                raise DeviceFault(
                    "keypad", "this is not a terminal", "start sweepsay in a terminal window"
                )
            source = create_input(stdin)
        self._input = source
        self._told = told
        self._report = report
        self._echo = echo
        self._decoder = KeyDecoder()
        self._shown = ""
        self._loop = asyncio.new_event_loop()
        self._ended = asyncio.Event()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, name="keypad", daemon=True)

    def __enter__(self) -> "TerminalKeys":
        self._thread.start()
        self._ready.wait(5.0)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._ended.set)
            self._thread.join(2.0)

    def _run(self) -> None:
        try:
            self._loop.run_until_complete(self._watch())
        except Exception as error:  # noqa: BLE001 - keys must never end without a word
            self._report(str(error) or type(error).__name__)
        finally:
            self._ready.set()
            self._loop.close()

    async def _watch(self) -> None:
        with self._input.raw_mode(), self._input.attach(self._read):
            self._ready.set()
            # What was typed before the callback was there waits in the parser.
            await self._ended.wait()

    def _read(self) -> None:
        self._take(self._input.read_keys())
        self._loop.call_later(FLUSH_S, self._flush)
        if self._input.closed:
            self._told(EndOfInput())
            self._ended.set()

    def _flush(self) -> None:
        self._take(self._input.flush_keys())

    def _take(self, presses: list[KeyPress]) -> None:
        for stroke in self._decoder.feed(presses, time.monotonic()):
            self._told(stroke)
        if self._echo is not None and self._decoder.words != self._shown:
            self._show(self._echo)

    def _show(self, echo: TextIO) -> None:
        old, new = self._shown, self._decoder.words
        self._shown = new
        if new.startswith(old):
            echo.write(new[len(old) :])
        elif new:
            echo.write(f"\r{' ' * len(old)}\r{new}")
        else:
            echo.write("\n")
        echo.flush()
