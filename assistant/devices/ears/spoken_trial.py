"""A few phrases spoken by the person: does the recogniser take their voice here?"""

import time
from collections.abc import Callable
from typing import TextIO

import numpy as np

from assistant.devices.ears.hearing import Ears, Utterance
from assistant.devices.ears.listener import BlockSource
from assistant.devices.ears.room import BLOCK, GOOD_SNR_DB, POOR_SNR_DB, Samples, Told
from assistant.devices.sound.microphone import level_db
from assistant.dialogue.messages import TURNED_DOWN
from grammar.offer import everything
from grammar.scale import Scale

PHRASES = (
    "front plus six", "right minus fifteen", "back minus thirty", "left plus two and a half",
    "say again", "locked", "done", "yes",
)  # fmt: skip
"""Long ones first, from which the voice is learnt; then short ones, which are taken less surely.

Among them the numbers that are most easily mistaken.
"""

MOST_ASKED = 0.25
"""More than this share asked about is worth a word."""

PHRASE_S = 8.0
"""How long each phrase is waited for."""


class SpokenTrial:
    """Asks for the phrases one by one and hears them."""

    def __init__(
        self,
        source: BlockSource,
        ears: Ears,
        stdout: TextIO,
        *,
        phrases: tuple[str, ...] = PHRASES,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._source, self._ears, self._stdout = source, ears, stdout
        self._phrases, self._clock = phrases, clock
        self.voice: tuple[Samples, float] | None = None
        """What was said, and its median level in dB of full scale; None before anything was."""

    def run(self) -> Told:
        """Ask for every phrase and say how it went, and what helps."""
        self._ears.arm(everything(Scale()))
        heard = [(phrase, self._hear(phrase)) for phrase in self._phrases]
        spoken = [utterance for _, utterance in heard if utterance is not None]
        sounds = [utterance.samples for utterance in spoken if len(utterance.samples)]
        if sounds:
            levels = [float(np.percentile(_levels(sound), 80)) for sound in sounds]
            self.voice = np.concatenate(sounds), float(np.median(levels))
        return verdict(heard)

    def _hear(self, phrase: str) -> Utterance | None:
        self._stdout.write(f"Say: {phrase}\n")
        self._stdout.flush()
        self._ears.discard()
        until = self._clock() + PHRASE_S
        while self._clock() < until:
            block = self._source.read(0.2)
            if block is None:
                continue
            if block.gap:
                self._ears.discard()
            for utterance in self._ears.feed(block.samples):
                self._stdout.write(
                    f"    heard: {utterance.words or 'nothing clear'} "
                    f"({utterance.outcome}, {utterance.snr_db:.0f} dB above the noise)\n"
                )
                return utterance
        self._stdout.write("    heard nothing\n")
        return None


def _levels(sound: Samples) -> list[float]:
    """Of blocks of 30 ms, in dB of full scale."""
    return [level_db(sound[at : at + BLOCK]) for at in range(0, len(sound), BLOCK)]


def verdict(heard: list[tuple[str, Utterance | None]]) -> Told:
    """What the phrases say about voice and microphone."""
    spoken = [utterance for _, utterance in heard if utterance is not None]
    right = sum(
        1
        for phrase, utterance in heard
        if utterance is not None
        and utterance.outcome not in TURNED_DOWN
        and utterance.words.split() == phrase.split()
    )
    asked = sum(1 for utterance in spoken if utterance.outcome == "ask")
    found = f"{right} of {len(heard)} phrases understood"
    if not spoken:
        return "note", "no phrase was heard", "speak up, or move the microphone nearer"
    if asked:
        found += f", {asked} not surely"
    snr = sorted(utterance.snr_db for utterance in spoken)[len(spoken) // 2]
    found += f", {snr:.0f} dB above the noise"
    if snr < POOR_SNR_DB:
        return "note", found, "too much noise: use a headset, or the keypad"
    doubtful = asked > MOST_ASKED * len(heard)
    if right == len(heard) and not doubtful:
        return "ok", found, ""
    if snr < GOOD_SNR_DB:
        return "note", found, "move the microphone nearer to your mouth, or use a headset"
    if right == len(heard):
        return "note", found, "some answers will be asked again; it learns your voice with each"
    return "note", found, "speak evenly, without a pause inside a call; the keypad is always there"
