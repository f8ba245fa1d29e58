"""Speaker, microphone and room, both devices open at once as in a job, for ``check``."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Literal, TextIO

import numpy as np

from assistant.devices.ears.hearing import Ears, Recogniser, Verifier
from assistant.devices.ears.room import (
    Room,
    describe_echo,
    describe_levels,
    describe_room,
    describe_voice,
    measure,
)
from assistant.devices.ears.spoken_trial import SpokenTrial
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.library import SoundLibrary
from assistant.devices.sound.loop_back import hear_itself
from assistant.devices.sound.microphone import Microphone
from assistant.devices.sound.settings import SoundSettings
from assistant.devices.sound.speaker import Speaker
from assistant.devices.voice.tones import tone

Status = Literal["ok", "note", "missing"]

OPEN_LIMIT_S = 8.0

YOUR_VOICE = "your voice"

MonotonicClock = Callable[[], float]


@dataclass(frozen=True, slots=True)
class Finding:
    """One part: "ok", "note" (works, but) or "missing"; what was found; what to do."""

    part: str
    status: Status
    found: str
    remedy: str = ""


@dataclass(slots=True)
class Look:
    """What is opened and how long it is listened to; ``room`` is filled in on the way."""

    sound: SoundSettings
    listen_s: float
    clock: MonotonicClock
    room: Room | None = field(default=None, init=False)


def look(part: str, at: Callable[[], Finding], missing: Status = "missing") -> Finding:
    """What was found, or the fault of a device as a finding."""
    try:
        return at()
    except DeviceFault as fault:
        return Finding(part, missing, fault.reason, fault.remedy)


def look_at_sound(
    open_library: Callable[[], SoundLibrary], looked: Look, judge: Verifier, stdout: TextIO,
    for_trial: Recogniser | None,
) -> Iterator[Finding]:  # fmt: skip
    """Speaker, microphone, room and the way from one to the other; then the person's voice."""
    try:
        library = open_library()
    except DeviceFault as fault:
        for part in ("speaker", "microphone"):
            yield Finding(part, "missing", fault.reason, fault.remedy)
        return
    sound = looked.sound
    # Whatever is played is to be heard here, so nothing is dropped.
    duplex = HalfDuplex(headset=True)
    with ExitStack() as stack:
        speaker = Speaker(library, sound.speaker, _nobody, duplex, clock=looked.clock)
        stack.enter_context(speaker)
        microphone = Microphone(library, sound.microphone, _nobody, duplex, clock=looked.clock)
        stack.enter_context(microphone)
        played = look("speaker", lambda: _look_at_speaker(speaker, sound))
        yield played
        yield look("microphone", lambda: _look_at_microphone(microphone, looked))
        if looked.room is None:
            return
        yield Finding("room", *describe_room(looked.room))
        if played.status == "ok":
            found = hear_itself(speaker, microphone, sound.volume / 100)
            yield Finding("echo", *describe_echo(found, headset=sound.headset))
        if for_trial is not None:
            yield from _look_at_voice(SpokenTrial(microphone, Ears(for_trial, judge), stdout))


def _nobody(reason: str | None) -> None:
    """Losses are found by looking, not by being told."""
    del reason


def _look_at_speaker(speaker: Speaker, sound: SoundSettings) -> Finding:
    reason = speaker.lifeline.wait_for_first_attempt(OPEN_LIMIT_S)
    if reason is not None:
        raise DeviceFault("speaker", reason, speaker.lifeline.remedy)
    samples = tone("heard", 48_000, sound.tones, sound.volume / 100)
    if not speaker.play(samples, 48_000) or not speaker.wait(OPEN_LIMIT_S):
        raise DeviceFault("speaker", "it takes no sound", "choose another by name")
    return Finding("speaker", "ok", f"{speaker.device_name}: a short tone was played")


def _look_at_microphone(microphone: Microphone, looked: Look) -> Finding:
    reason = microphone.lifeline.wait_for_first_attempt(OPEN_LIMIT_S)
    if reason is not None:
        raise DeviceFault("microphone", reason, microphone.lifeline.remedy)
    first = microphone.read(OPEN_LIMIT_S)
    if first is None:
        raise DeviceFault("microphone", "it delivers nothing", "choose another by name")
    blocks = [first.samples]
    while sum(map(len, blocks)) < looked.listen_s * 16_000:
        block = microphone.read(1.0)
        if block is None:
            raise DeviceFault("microphone", "it stopped delivering", "check its plug")
        blocks.append(block.samples)
    room = measure(np.concatenate(blocks))
    status, found, remedy = describe_levels(room)
    if status != "missing":
        looked.room = room
    return Finding("microphone", status, f"{microphone.device_name}: {found}", remedy)


def _look_at_voice(trial: SpokenTrial) -> Iterator[Finding]:
    yield Finding(YOUR_VOICE, *trial.run())
    if trial.voice is not None:
        yield Finding("its sound", *describe_voice(*trial.voice))
