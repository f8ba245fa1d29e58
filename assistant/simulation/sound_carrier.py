"""Carries the person's words to the dialogue as sound: speech through the real ears."""

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
import soxr  # type: ignore[import-untyped]

from assistant.devices.ears.hearing import Decoded, Ears, Utterance, heard_event
from assistant.dialogue.messages import Confirmed, Effect, Heard, Listen, TakenBack
from assistant.simulation.soundtrack import PERSON, QuietRoom, Soundtrack
from assistant.simulation.speech import RATE, Samples

BLOCK = 320
"""Samples in a block, as a microphone gives them: 20 ms."""

GIVE_UP_S = 2.0
"""Quiet after a call of which nothing comes, until the person notices."""

WORK = (
    "lock", "zero", "loosen", "shim", "loosen and shim", "tighten", "ease", "tap",
    "tap lock", "close",
)  # fmt: skip
"""Phases in which hands are busy before the person answers."""

CallHeard = Callable[[float, str, Utterance | None], None]
"""Told when a call began, its words, and what was heard of it."""


class Speaks(Protocol):
    """Whoever turns words into speech: recorded, or synthesised."""

    def say(self, words: str) -> Samples:
        """These words as samples at ``speech.RATE``, without quiet around them."""


class SoundCarrier:
    """Speaks each call into the room and feeds the room to the ears, block by block.

    Nothing passes but sound: what the ears make of it is what the dialogue hears. While the
    assistant speaks the ears are closed, as they are with a loudspeaker in the room.
    """

    def __init__(
        self,
        person: Speaks,
        ears: Ears,
        track: Soundtrack,
        room: QuietRoom,
        chance: random.Random,
        told: CallHeard,
    ) -> None:
        self._person = person
        self._ears = ears
        self._track = track
        self._room = room
        self._chance = chance
        self._told = told
        self._last = ""
        self._heard: dict[int, Decoded] = {}

    def notice(self, effect: Effect) -> None:
        """The ears are told what was meant and what was not, as at the bench."""
        if isinstance(effect, Confirmed | TakenBack):
            learn = self._ears.recogniser
            for decoded in (self._heard[turn] for turn in effect.turns if turn in self._heard):
                (learn.confirm if isinstance(effect, Confirmed) else learn.unlearn)(decoded)

    def carry(self, words: str, listen: Listen) -> Sequence[Heard]:
        """One call: a pause to think or to work, then speech, until something is heard."""
        clock = self._track.clock
        thinking = self._chance.uniform(0.9, 1.2) if listen.phase in WORK else 0.0
        pause = thinking + self._chance.uniform(0.5, 0.8)
        speech = self._speak(words)
        begins = clock.seconds + pause
        self._track.voice(speech, RATE, PERSON, begins)
        self._ears.discard()
        self._ears.arm(replace(listen.offer, awaited=listen.station))
        sound = self._in_the_room(speech, pause)
        for first in range(0, len(sound), BLOCK):
            found = self._ears.feed(sound[first : first + BLOCK])
            clock.pass_time(BLOCK / RATE)
            if found:
                self._told(begins, words, found[0])
                self._heard[listen.turn] = found[0].decoded
                # Half of it may be heard before it is over: nobody is talked into.
                left = begins + len(speech) / RATE - clock.seconds
                at = clock.now()
                clock.pass_time(max(0.0, left))
                return [heard_event(found[0], at, listen.turn)]
        self._told(begins, words, None)
        return []

    def _speak(self, words: str) -> Samples:
        """The words, never twice at quite the same pace, pitch and loudness."""
        spread = 0.03 if words != self._last else 0.06
        self._last = words
        pace = 1.0 + self._chance.uniform(-spread, spread)
        loudness = 10 ** (self._chance.uniform(-3.0, 0.0) / 20)
        plain = self._person.say(words).astype(np.float32) * loudness
        spoken: Samples = np.rint(soxr.resample(plain, RATE, RATE * pace)).astype(np.int16)
        return spoken

    def _in_the_room(self, speech: Samples, pause_s: float) -> Samples:
        before, after = round(pause_s * RATE), round(GIVE_UP_S * RATE)
        sound = np.concatenate([np.zeros(before, np.int16), speech, np.zeros(after, np.int16)])
        noise = self._room.during(self._track.clock.seconds, len(sound))
        mixed: Samples = np.clip(sound.astype(np.int32) + noise, -32768, 32767).astype(np.int16)
        return mixed
