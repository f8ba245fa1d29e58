"""Speaking up in a loud room: how much louder and slower, from the level of the noise.

People raise their voice by about half of what the noise rises, and slow down (Lombard effect;
the half is from memory). The gain moves in whole decibels and not at every breath of the
room, so that the voice stays one voice. Pure: levels come in, numbers go out.
"""

QUIET_DB = -56.0
"""Up to this level of the room, in dB of full scale at the microphone, nothing is raised."""

HALF = 0.5
"""Decibels of voice for each one of noise."""

MOST_DB = 4.0
"""What is left between the usual level of the voice and full scale."""

SLOW_FROM_DB = 3.0
SLOWER = 0.88
"""From this gain on the voice is slowed down too, to this part of its rate."""


class VocalEffort:
    """What the voice adds now; 0 dB and the usual pace before anything was fed."""

    def __init__(self) -> None:
        self.gain_db = 0.0

    def feed(self, noise_db: float) -> None:
        """The room's level in dB of full scale, as it is before a prompt."""
        wanted = min(max(HALF * (noise_db - QUIET_DB), 0.0), MOST_DB)
        # A whole decibel off before anything changes: rooms breathe.
        if abs(wanted - self.gain_db) >= 1.0:
            self.gain_db = float(round(wanted))

    @property
    def pace(self) -> float:
        """The part of its usual rate at which to speak."""
        return SLOWER if self.gain_db >= SLOW_FROM_DB else 1.0
