"""The job at the bench: microphone, speaker and keys around the loop, each on its own thread.

What happens when a device is missing or goes away is decided by the dialogue; here the
devices are opened, watched and wired to one mailbox that only the loop's thread reads.
"""

import queue
import sys
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO, assert_never

from assistant.devices.bounce import Bounce
from assistant.devices.ears import Ears, Recogniser, Utterance, heard_event
from assistant.devices.faults import DeviceFault
from assistant.devices.half_duplex import HalfDuplex
from assistant.devices.input_device import InputDeviceKeys
from assistant.devices.keypad import EndOfInput, Interrupt, Key, Line, Stroke, Talk
from assistant.devices.library_noise import library_noise_to
from assistant.devices.lifeline import Lifeline
from assistant.devices.lines import (
    KEYPAD_CHARACTERS,
    LONGEST_LINE,
    effect_json,
    event_of,
    keys_of_line,
    print_event,
    print_line,
    print_say,
)
from assistant.devices.listener import Listener
from assistant.devices.microphone import Microphone
from assistant.devices.plain_screen import changes
from assistant.devices.screen import Screen
from assistant.devices.sound_library import PortAudio
from assistant.devices.speaker import Speaker
from assistant.devices.terminal_keys import TerminalKeys
from assistant.devices.tones import tone
from assistant.devices.verify import judge
from assistant.devices.voice import Voice
from assistant.dialogue import prompts
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    Device,
    DeviceBack,
    DeviceLost,
    Effect,
    Event,
    Heard,
    KeyPressed,
    Listen,
    RoomNoise,
    Say,
    Tone,
)
from assistant.dialogue.view import View, view
from assistant.records.codec import write_event
from assistant.records.journal import Journal
from assistant.run import Loop, now
from assistant.wishes import Wishes
from grammar.vocabulary import STATIONS

FIRST_ATTEMPT_S = 5.0
"""How long a device may take to open before the job begins without it."""

LEVEL_S = 0.1
"""How often the level meter moves while nothing happens."""

TONE_RATE = 48_000


@dataclass(frozen=True, slots=True)
class _End:
    """Put into the mailbox when the last source of input has ended."""


Mail = Event | _End


class Bench:
    """The open devices and the loop. Made by ``run_live``; ``play`` runs the job."""

    def __init__(
        self,
        profile: Profile,
        journal: Journal,
        wishes: Wishes,
        make_recogniser: Callable[[], Recogniser],
        stdin: TextIO,
        stdout: TextIO,
        stderr: TextIO,
    ) -> None:
        self.wishes = wishes
        self.mailbox: queue.Queue[Mail] = queue.Queue()
        self.loop = Loop(
            journal, profile, self._perform, self._committed, wishes.remember, wishes.machines
        )
        self._make_recogniser = make_recogniser
        self._stdin, self._stdout, self._stderr = stdin, stdout, stderr
        self._duplex = HalfDuplex(headset=wishes.sound.headset)
        self._speaker: Speaker | None = None
        self._voice: Voice | None = None
        self._listener: Listener | None = None
        self._bounce = Bounce()
        self._lost: set[Device] = set()
        self._screen: Screen | None = None
        self._shown: View | None = None
        self._microphone: Microphone | None = None

    # -- opening -------------------------------------------------------------------------

    def open(self, stack: ExitStack) -> None:
        """Open what is wanted and there; say what is missing, printed and spoken."""
        missing: list[DeviceFault] = []
        if self.wishes.voice == "speaker":
            self._try(missing, lambda: self._open_voice(stack))
        if self.wishes.ears == "mic":
            self._try(missing, lambda: self._open_ears(stack))
        for fault in missing:
            self._lost.add(fault.device)
            print(f"sweepsay: {fault}", file=self._stderr)
            self.mailbox.put(DeviceLost(now(), fault.device, fault.reason))

    @staticmethod
    def _try(missing: list[DeviceFault], open_: Callable[[], None]) -> None:
        try:
            open_()
        except DeviceFault as fault:
            missing.append(fault)

    def open_screen(self, stdin: TextIO, stack: ExitStack) -> bool:
        """Draw the job on a full screen, if this is a terminal; its keys come with it."""
        try:
            screen = Screen(self.stroke, theme=self.wishes.theme, stdin=stdin, stdout=self._stdout)
        except DeviceFault as fault:
            self.note(fault)
            return False
        self._screen = stack.enter_context(screen)
        return True

    def _open_voice(self, stack: ExitStack) -> None:
        self._voice = Voice(self.wishes.sound.voice)
        self._voice.prepare(_frequent())
        library = PortAudio("speaker")
        name = self.wishes.sound.speaker
        speaker = Speaker(library, name, self.report("speaker"), self._duplex)
        self._speaker = stack.enter_context(speaker)
        self._first_attempt(speaker.lifeline)

    def _open_ears(self, stack: ExitStack) -> None:
        library = PortAudio("microphone")
        microphone = Microphone(
            library, self.wishes.sound.microphone, self.report("microphone"), self._duplex
        )
        self._microphone = stack.enter_context(microphone)
        listener = Listener(
            microphone,
            lambda: Ears(self._make_recogniser(), judge),
            self._heard,
            self.report("recogniser"),
            lambda loud: self.mailbox.put(RoomNoise(now(), loud)),
        )
        self._listener = stack.enter_context(listener)
        self._first_attempt(microphone.lifeline)

    def _first_attempt(self, lifeline: Lifeline) -> None:
        """Give it time to open; the reason why it did not is told by its report."""
        if lifeline.wait_for_first_attempt(FIRST_ATTEMPT_S) is not None:
            print(f"sweepsay: {lifeline.remedy}", file=self._stderr)

    def report(self, device: Device) -> Callable[[str | None], None]:
        """What a device's watch is told: the reason when it is lost, None when it is back."""

        def report(reason: str | None) -> None:
            if reason is None:
                self._lost.discard(device)
                self.mailbox.put(DeviceBack(now(), device))
            else:
                self._lost.add(device)
                if self._screen is None:
                    print(f"sweepsay: {device}: {reason}", file=self._stderr)
                self.mailbox.put(DeviceLost(now(), device, reason))

        return report

    # -- input, from any thread ----------------------------------------------------------

    def _heard(self, turn: int, utterance: Utterance) -> None:
        self.mailbox.put(heard_event(utterance, now(), turn))

    def key(self, name: str) -> None:
        """A key was pressed: what is being said is cut off, and the key is answered."""
        if self._speaker is not None:
            self._speaker.cut_off()
        state = self.loop.state
        self.mailbox.put(KeyPressed(now(), state.turn if state else 0, name))

    def pressed(self, name: str) -> None:
        """A finger pressed a key: a slip changes nothing, and what is being said goes on."""
        if self._bounce.counts(name, time.monotonic()):
            self.key(name)

    def line(self, text: str) -> None:
        """A line was typed."""
        state = self.loop.state
        if state is not None:
            self.mailbox.put(event_of(text, now(), state.turn, state.profile.scale))

    def stroke(self, stroke: Stroke) -> None:
        """Something came from the terminal's keyboard."""
        match stroke:
            case Key(name=name):
                self.pressed(name)
            case Line(text=text):
                self.line(text)
            case Talk():
                self._push_to_talk()
            case Interrupt() | EndOfInput():
                self.end()
            case _:
                assert_never(stroke)

    def _push_to_talk(self) -> None:
        if self._speaker is not None:
            self._speaker.cut_off()
        if self._listener is not None:
            self._listener.push_to_talk()

    def end(self) -> None:
        """No more will be typed."""
        self.mailbox.put(_End())

    def note(self, fault: DeviceFault) -> None:
        """A word for the curious about something that is not needed."""
        if self.wishes.verbose:
            print(f"sweepsay: {fault}", file=self._stderr)

    @property
    def hears(self) -> bool:
        """Whether a microphone is being listened to."""
        return self._listener is not None and not self._lost & {"microphone", "recogniser"}

    # -- the loop ------------------------------------------------------------------------

    def play(self) -> None:
        """Open the job and work through the mailbox until it is closed, stopped or ended."""
        self.loop.open_job()
        self._draw()
        while not self.loop.over:
            try:
                mail = self.mailbox.get(timeout=LEVEL_S)
            except queue.Empty:
                self._show_level()
                continue
            if isinstance(mail, _End):
                break
            self._hush(mail)
            self.loop.post(mail)
            self._draw()
        if self._speaker is not None:
            self._speaker.wait(8.0)

    def _hush(self, event: Event) -> None:
        """An answer ends what is being said: a person who types ahead is not talked after."""
        if self._speaker is not None and isinstance(event, Heard) and event.outcome != "reject":
            self._speaker.cut_off()

    def _draw(self) -> None:
        state = self.loop.state
        if state is None:
            return
        shown = view(state)
        if self._screen is not None:
            self._screen.show(shown)
        elif self._stdin.isatty() and not self.wishes.as_json:
            for line in changes(self._shown, shown):
                print(line, file=self._stdout, flush=True)
        self._shown = shown

    def _show_level(self) -> None:
        if self._screen is not None:
            level = self._microphone.level_db if self._microphone is not None else None
            speaking = self._speaker is not None and self._speaker.playing()
            self._screen.update(level_db=level, speaking=speaking, hears=self.hears)

    def _committed(self, event: Event) -> None:
        if self.wishes.as_json:
            print_event(self._stdout, write_event(event))

    def _perform(self, effect: Effect) -> None:
        if self.wishes.as_json:
            print_line(self._stdout, effect_json(effect, self.loop.profile.scale))
        match effect:
            case Say(text=text):
                silent = self.wishes.voice == "off" or self.wishes.as_json
                if not silent and self._screen is None:
                    print_say(self._stdout, text)
                self._speak(text)
            case Tone(name=name) if self._speaker is not None:
                sound = self.wishes.sound
                answer = tone(name, TONE_RATE, sound.tones, sound.volume / 100)
                self._speaker.play(answer, TONE_RATE)
            case Listen(turn=turn, offer=offer) if self._listener is not None:
                self._listener.arm(turn, offer)
            case _:
                return

    def _speak(self, text: str) -> None:
        if self._voice is None or self._speaker is None:
            return
        try:
            samples, rate = self._voice.synthesise(text)
        except DeviceFault as fault:
            self.mailbox.put(DeviceLost(now(), "voice", fault.reason))
            return
        self._speaker.play(samples, rate)


def _frequent() -> list[str]:
    """What is said in every job; with the stations' questions most prompts begin at once."""
    fixed = [text for name, text in vars(prompts).items() if name.isupper()]
    asked = [ask(station) for station in STATIONS for ask in (prompts.call, prompts.call_again)]
    return [*asked, *(text for text in fixed if isinstance(text, str))]


def run_live(
    profile: Profile,
    record: Path,
    wishes: Wishes,
    make_recogniser: Callable[[], Recogniser],
    *,
    stdin: TextIO = sys.stdin,
    stdout: TextIO = sys.stdout,
    stderr: TextIO = sys.stderr,
) -> int:
    """Play a job at the bench; end of typed input saves it. Raises RecordError."""
    with ExitStack() as stack:
        journal = stack.enter_context(Journal.open(record))
        if stderr.isatty():
            # Sound libraries print on it when a device goes, straight across the screen.
            stderr = stack.enter_context(library_noise_to(record.with_suffix(".log")))
        bench = Bench(profile, journal, wishes, make_recogniser, stdin, stdout, stderr)
        bench.open(stack)
        _open_keys(bench, wishes, stdin, stderr, stack)
        bench.play()
    return 0


def _open_keys(bench: Bench, wishes: Wishes, stdin: TextIO, echo: TextIO, stack: ExitStack) -> None:
    """A keypad of its own, single keys of a terminal, or lines of a pipe; as far as there."""
    if wishes.keypad:
        try:
            stack.enter_context(InputDeviceKeys(bench.pressed, bench.report("keypad")))
        except DeviceFault as fault:
            # No keypad of its own is no loss: its keys then come through the terminal.
            bench.note(fault)
    if wishes.screen and bench.open_screen(stdin, stack):
        return
    if stdin.isatty():
        stack.enter_context(TerminalKeys(bench.stroke, stdin=stdin, echo=echo))
        return
    threading.Thread(
        target=_read_lines, args=(bench, wishes, stdin), name="typed lines", daemon=True
    ).start()


def _read_lines(bench: Bench, wishes: Wishes, stdin: TextIO) -> None:
    while line := stdin.readline(LONGEST_LINE):
        text = line.strip()
        if set(text) <= set(KEYPAD_CHARACTERS):
            for key in keys_of_line(text):
                bench.key(key)
        else:
            bench.line(text)
    if wishes.ears != "mic" or not bench.hears:
        bench.end()
