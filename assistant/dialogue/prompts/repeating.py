"""What is spoken about sweeping the same table again."""

from typing import Final

STILL_NO_FIT: Final = "Still no fit."  # each station was read again, and still no plane
SWEEP_AFRESH: Final = "Sweep it afresh?"  # a new sweep in place of one that does not fit

NEAR_NOISE: Final = "Hardly out of the noise."
"""What would be corrected may be noise for the most part: look again first."""

SWEEP_AGAIN: Final = "Sweep again, beside the old spots?"
"""The mean of both is surer; on the same spots the surface would be off the same way again."""

REFIT_AGAIN: Final = "Bar half round in the chuck, sweep again?"
"""The spindle's own rise and fall once a turn is then met upside down, and cancels."""

REFIT: Final = "Turn the bar half round. Chuck key out. Done?"  # before such a sweep
LOCK_AGAIN: Final = "Unlock, lock to the mark. Say locked."
"""Before a repeat where the lock is a part of the noise."""
