"""The bench: microphone, speaker, screen and keys around the loop, each on its own thread.

What happens when a device is missing or goes away is decided by the dialogue; here the
devices are opened, watched and wired to one mailbox that only the loop's thread reads.
"""

import os
import queue
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from typing import TextIO, assert_never

from assistant.bench.loop import Loop
from assistant.bench.own_voice import Brake, OwnVoice
from assistant.bench.queued import End, Mail, Spoken, Typed
from assistant.bench.showing import Showing
from assistant.bench.speaking import FIRST_ATTEMPT_S, SPOKEN_S, open_mouth
from assistant.bench.timekeeping import ClockWatch, now
from assistant.bench.tuning import tuned
from assistant.bench.wishes import Surroundings, Wishes
from assistant.devices.ears.hearing import Ears, Recogniser, Utterance, heard_event
from assistant.devices.ears.listener import LONGEST_TALK_S, Listener
from assistant.devices.ears.verify import verify
from assistant.devices.faults import DeviceFault
from assistant.devices.keys.bounce import Bounce
from assistant.devices.keys.held_key import TALK, HeldKey
from assistant.devices.keys.keypad import EndOfInput, Interrupt, Key, Line, Stroke, Talk
from assistant.devices.screen.terminal import Screen
from assistant.devices.screen.terminal_colours import terminal_colours
from assistant.devices.sound.echo_watch import EchoWatch
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.lifeline import Lifeline
from assistant.devices.sound.microphone import RATE, Microphone
from assistant.devices.text.lines import (
    KEYPAD_CHARACTERS,
    effect_json,
    event_line,
    event_of,
    json_line,
    keys_of_line,
)
from assistant.devices.text.printer import Printer
from assistant.devices.voice.mouth import Mouth
from assistant.devices.watch import Stint, Watch
from assistant.dialogue import pending, spoken, wording
from assistant.dialogue.keys import is_talk
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    TURNED_DOWN,
    Confirmed,
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
    TakenBack,
    Tone,
    Tuned,
    VoiceWish,
)
from assistant.dialogue.procedures import close, lock, noise, safety, shim, sweep, tap
from assistant.dialogue.wishes import at_its_end
from assistant.records.faults import RecordError
from assistant.records.journal.codec import write_event
from assistant.records.journal.journal import Journal
from assistant.records.journal.kept_audio import keep
from grammar.vocabulary import STATIONS

LEVEL_S = 0.1
"""How often the level meter moves while nothing happens."""

SLOW_DISK_S = 3.0
"""How long the record may take for one event before the person is told to wait."""


class LiveBench:
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
        surroundings: Surroundings | None = None,
    ) -> None:
        self.wishes = wishes
        self.mailbox: queue.Queue[Mail] = queue.Queue()
        self.loop = Loop(
            journal, profile, self._perform, self._committed, wishes.remember, wishes.machines,
            problem=self.tell, clock_set=ClockWatch().set_by_s, prompts=wishes.sound.prompts,
            quiet=wishes.sound.quiet,
        )  # fmt: skip
        self._around = surroundings or Surroundings()
        self._make_recogniser = make_recogniser
        self._stdout = stdout
        self._out = Printer(stdout, self.report("screen"))
        self._err = Printer(stderr, lambda _: None)
        self._showing = Showing(wishes, stdin, self._out, self._err)
        self._duplex = HalfDuplex(headset=wishes.sound.headset, echo=EchoWatch())
        self._own_voice, self._brake = OwnVoice(self._duplex), Brake()
        self._mouth: Mouth | None = None
        self._listener: Listener | None = None
        self._bounce = Bounce()
        self._held_key = HeldKey(self.pressed)
        self._held_talk = HeldKey(lambda _: self._push_to_talk(), longest_s=LONGEST_TALK_S)
        self._lost: set[Device] = set()
        self._microphone: Microphone | None = None
        self._keeps_audio = wishes.keep_audio
        self._sound = wishes.sound
        self._spoken: Spoken | None = None
        self._commit = Stint()
        self._disk_waits = False
        self._checks: list[Callable[[], None]] = [self._check_disk, self._out.check]

    # -- opening -------------------------------------------------------------------------

    def open(self, stack: ExitStack) -> None:
        """Open what is wanted and there; say what is missing, printed and spoken."""
        stack.enter_context(self._err)
        stack.enter_context(self._out)
        missing: list[DeviceFault] = []
        if self.wishes.ears == "mic":
            # It opens while the voice loads.
            self._try(missing, lambda: self._open_microphone(stack))
        if self.wishes.voice == "speaker":
            self._try(missing, lambda: self._open_voice(stack))
        if self._microphone is not None:
            self._listen_to(self._microphone, stack)
        for fault in missing:
            self._lost.add(fault.device)
            self.tell(str(fault))
            self.mailbox.put(DeviceLost(now(), fault.device, fault.reason))
        if self._keeps_audio:
            self.tell("what is said to it is kept as sound: 'sweepsay job audio' lists, deletes")
        stack.enter_context(Watch(self._checks))

    @staticmethod
    def _try(missing: list[DeviceFault], open_: Callable[[], None]) -> None:
        try:
            open_()
        except DeviceFault as fault:
            missing.append(fault)

    def open_screen(self, stdin: TextIO, stack: ExitStack) -> bool:
        """Draw the job on a full screen, if this is a terminal; its keys come with it."""
        try:
            screen = Screen(
                self.stroke, self.report("screen"), theme=self.wishes.theme,
                colours=terminal_colours(os.environ), stdin=stdin, stdout=self._stdout,
            )  # fmt: skip
        except DeviceFault:
            # A terminal that cannot be drawn on is written in lines: that is said by doing it.
            return False
        self._showing.screen = stack.enter_context(screen)
        self._checks.append(screen.check)
        return True

    def _open_voice(self, stack: ExitStack) -> None:
        sound = self.wishes.sound
        voice = self._around.make_voice(sound.voice)
        self._mouth, lifeline = open_mouth(
            voice, sound, self._around, self._duplex, self.report, stack, self._noise_db
        )
        self._checks.append(lifeline.check)
        self._first_attempt(lifeline)

    def _noise_db(self) -> float:
        """The room's level at the microphone, in dB of full scale; silence without one."""
        return -100.0 if self._listener is None else self._listener.noise_db

    def _open_microphone(self, stack: ExitStack) -> None:
        around = self._around
        microphone = Microphone(
            around.library("microphone"), self.wishes.sound.microphone,
            self.report("microphone"), self._duplex,
            patience=around.patience, clock=around.clock,
        )  # fmt: skip
        self._microphone = stack.enter_context(microphone)

    def _listen_to(self, microphone: Microphone, stack: ExitStack) -> None:
        # Said before anything was asked, it answers nothing.
        microphone.drain()
        listener = Listener(
            microphone,
            lambda: Ears(self._make_recogniser(), verify),
            self._heard,
            self.report("recogniser"),
            lambda loud: self.mailbox.put(RoomNoise(now(), loud)),
        )
        self._listener = stack.enter_context(listener)
        self._checks += [microphone.lifeline.check, listener.check]
        self._first_attempt(microphone.lifeline)

    def _first_attempt(self, lifeline: Lifeline) -> None:
        """Give it time to open; the reason why it did not is told by its report."""
        if lifeline.wait_for_first_attempt(FIRST_ATTEMPT_S) is not None:
            self.tell(lifeline.remedy)

    def report(self, device: Device) -> Callable[[str | None], None]:
        """What a device's watch is told: the reason when it is lost, None when it is back."""

        def report(reason: str | None) -> None:
            if reason is None:
                self._lost.discard(device)
                self.mailbox.put(DeviceBack(now(), device))
            else:
                self._lost.add(device)
                self.tell(f"{device}: {reason}")
                self.mailbox.put(DeviceLost(now(), device, reason))

        return report

    # -- input, from any thread ----------------------------------------------------------

    def _heard(self, turn: int, utterance: Utterance) -> None:
        if self._own_voice.echoes(utterance, self._around.clock()):
            return
        self.mailbox.put(Spoken(heard_event(utterance, now(), turn), utterance.samples))

    def key(self, name: str) -> None:
        """A key was pressed: what is being said is cut off, and the key is answered."""
        if self._mouth is not None:
            self._mouth.cut_off()
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
        if not isinstance(stroke, Key):
            self._held_key.settle()
        match stroke:
            case Key(name=name):
                self._held_key.pressed(name)
            case Line(text=text):
                self.line(text)
            case Talk():
                self._held_talk.pressed(TALK)
            case Interrupt() | EndOfInput():
                self.end()
            case _:
                assert_never(stroke)

    def _push_to_talk(self) -> None:
        if self._mouth is not None:
            self._mouth.cut_off()
        if self._listener is not None:
            self._listener.push_to_talk()

    def end(self) -> None:
        """No more will be typed."""
        self.mailbox.put(End())

    def tell(self, problem: str) -> None:
        """Say in a line what is wrong, in print; any thread."""
        self._showing.tell(problem)

    def farewell(self) -> tuple[list[str], list[str]]:
        """What to print when the screen is gone: how the job ended, and what went wrong."""
        return self._showing.farewell(over=self.loop.over)

    @property
    def hears(self) -> bool:
        """Whether a microphone is being listened to."""
        return self._listener is not None and not self._lost & {"microphone", "recogniser"}

    # -- the loop ------------------------------------------------------------------------

    def play(self) -> None:
        """Open the job and work through the mailbox until it is closed, stopped or ended."""
        self.loop.open_job()
        if self._mouth is not None:
            # Behind the first prompt, which somebody waits for.
            self._mouth.prepare(_frequent())
        self._draw()
        while not self.loop.over:
            try:
                mail = self.mailbox.get(timeout=LEVEL_S)
            except queue.Empty:
                self.loop.look_at_the_time()
                self._show_level()
                continue
            if isinstance(mail, End):
                break
            if isinstance(mail, Typed):
                self._answer(mail.text)
            else:
                self.handle(mail)
        if self.loop.over:
            self._stay()
        if self._mouth is not None:
            self._mouth.wait(SPOKEN_S)

    def _stay(self) -> None:
        """Leave the last words on the screen until a key is pressed or a line is typed."""
        while self._showing.drawn:
            self._show_level(leaves=True)
            try:
                mail = self.mailbox.get(timeout=LEVEL_S)
            except queue.Empty:
                continue
            if isinstance(mail, End | Typed | KeyPressed) or (
                isinstance(mail, Heard) and mail.source == "text"
            ):
                return

    def _answer(self, line: str) -> None:
        """Take a typed line: keys of the keypad one by one, or words."""
        keys = keys_of_line(line) if set(line) <= set(KEYPAD_CHARACTERS) else ()
        for text in [f"key: {key}" for key in keys] or [line]:
            state = self.loop.state
            if state is not None and not self.loop.over:
                self.handle(event_of(text, now(), state.turn, state.profile.scale))

    def handle(self, mail: Event | Spoken) -> None:
        """Commit an event and do what follows from it; the loop's thread."""
        self._spoken = mail if isinstance(mail, Spoken) else None
        event = mail.event if isinstance(mail, Spoken) else mail
        self._hush(event)
        self._brake.passes(event)
        state = self.loop.state
        self._showing.before(state, event)
        talks = state is not None and isinstance(event, KeyPressed) and is_talk(state, event)
        with self._commit.within(SLOW_DISK_S):
            self.loop.post(event)
        self._disk_waits = False
        if talks and self._listener is not None:
            self._listener.push_to_talk()
        self._draw()

    def _check_disk(self) -> None:
        """A disk that does not answer holds up the loop's thread, so that the watch says it."""
        if self._commit.overdue() and not self._disk_waits:
            self._disk_waits = True
            self.tell("the disk does not answer: check it; nothing that was read back is lost")
            self._showing.urgent(wording.DISK_SLOW)
            if self._mouth is not None:
                self._mouth.say(wording.DISK_SLOW)

    def _hush(self, event: Event) -> None:
        """An answer ends what is being said: a person who types ahead is not talked after."""
        answers = isinstance(event, KeyPressed) or (
            isinstance(event, Heard) and event.outcome not in TURNED_DOWN
        )
        if self._mouth is not None and answers:
            self._mouth.cut_off()

    def _draw(self) -> None:
        state = self.loop.state
        if state is not None:
            self._showing.draw(state)
            self._show_level()

    def _show_level(self, *, leaves: bool = False) -> None:
        self._showing.update(
            level_db=self._microphone.level_db if self._microphone is not None else None,
            speaking=self._mouth is not None and self._mouth.speaking(),
            hears=self.hears, leaves=leaves,
        )  # fmt: skip

    def _committed(self, event: Event) -> None:
        self._commit.ends()
        if self.wishes.as_json:
            self._out.line(event_line(write_event(event)))
        spoken = self._spoken
        # In the record it says besides where the job stood.
        if spoken is None or not self._keeps_audio or not isinstance(event, Heard):
            return
        if (spoken.event.at, spoken.event.turn) == (event.at, event.turn):
            self._keep_audio(spoken)

    def _keep_audio(self, spoken: Spoken) -> None:
        state = self.loop.state
        if state is None or spoken.event.outcome in TURNED_DOWN or not len(spoken.samples):
            return
        try:
            keep(
                self.loop.journal.path, state.job, self.loop.number, spoken.event, spoken.samples,
                RATE,
            )  # fmt: skip
        except RecordError as error:
            self._keeps_audio = False
            self.tell(str(error))
            self._perform(Say(wording.AUDIO_NOT_KEPT))

    def _tune(self, wish: VoiceWish) -> None:
        """Speak otherwise from now on, and in the next job."""
        before, self._sound = self._sound, tuned(self._sound, wish)
        if self._sound == before and at_its_end(wish):
            self._perform(Say(at_its_end(wish)))
        if self._mouth is not None:
            self._mouth.tune(self._sound.voice)
        if self.wishes.keep_sound is None:
            return
        try:
            self.wishes.keep_sound(self._sound)
        except (RecordError, OSError) as error:
            self.tell(f"not remembered: {error}")

    def _perform(self, effect: Effect) -> None:
        if self.wishes.as_json:
            self._out.line(json_line(effect_json(effect, self.loop.profile.scale)))
        match effect:
            case Say(text=text):
                self._showing.say(text)
                if self._mouth is not None and not self._brake.on() and not self._sound.quiet:
                    self._own_voice.says(text)
                    self._mouth.say(text)
            case Tuned(name=name):
                self._tune(name)
            case Tone(name=name) if self._mouth is not None:
                self._mouth.tone(name)
            case Listen(turn=turn, offer=offer, station=station) if self._listener is not None:
                self._listener.arm(turn, replace(offer, awaited=station))
            case Confirmed(turns=turns) | TakenBack(turns=turns) if self._listener is not None:
                self._listener.told(turns, meant=isinstance(effect, Confirmed))
            case _:
                return


FREQUENT = (wording, pending, safety, lock, noise, sweep, shim, tap, close)
"""Whose unchanging prompts are spoken in most jobs."""


def _frequent() -> list[str]:
    """What is said in every job; with the stations' questions most prompts begin at once."""
    fixed = [text for module in FREQUENT for text in spoken.fixed(module).values()]
    asked = [ask(station) for station in STATIONS for ask in (wording.call, wording.call_again)]
    return [*asked, *fixed]
