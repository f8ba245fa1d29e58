"""Words from the simulated person to the dialogue without any sound."""

from collections.abc import Sequence

from assistant.devices.text.lines import event_of
from assistant.dialogue.messages import Heard, Listen
from assistant.simulation.clock import SimulatedClock


class TextCarrier:
    """Typed words: what is said is what is heard."""

    def __init__(self, clock: SimulatedClock) -> None:
        self._clock = clock

    def carry(self, words: str, listen: Listen) -> Sequence[Heard]:
        """The words as one event."""
        self._clock.pass_time(2.0)
        typed = event_of(words, self._clock.now(), listen.turn, listen.offer.scale)
        return [typed] if isinstance(typed, Heard) else []
