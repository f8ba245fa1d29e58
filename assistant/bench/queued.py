"""What the bench's threads put into the loop's mailbox, beside plain events."""

from dataclasses import dataclass

from assistant.devices.sound.microphone import Samples
from assistant.dialogue.messages import Event, Heard


@dataclass(frozen=True, slots=True)
class End:
    """Put into the mailbox when the last source of input has ended."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """An utterance with its sound, which is kept only where that was asked for."""

    event: Heard
    samples: Samples


@dataclass(frozen=True, slots=True)
class Typed:
    """A line of a pipe: it answers whatever is asked when its turn comes."""

    text: str


Mail = Event | End | Spoken | Typed
