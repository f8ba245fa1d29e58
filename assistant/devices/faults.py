"""What is raised when a device cannot be used: one class, with an owner and a remedy."""

from typing import Literal

FaultyDevice = Literal["microphone", "speaker", "recogniser", "voice", "keypad", "screen"]


class DeviceFault(Exception):
    """A device cannot be used. ``str()`` is one line: which, why, and what to do next.

    ``reason`` goes into the record; ``remedy`` is for the person.
    """

    def __init__(self, device: FaultyDevice, reason: str, remedy: str) -> None:
        super().__init__(f"{device}: {reason}; {remedy}")
        self.device: FaultyDevice = device
        self.reason = reason
        self.remedy = remedy
