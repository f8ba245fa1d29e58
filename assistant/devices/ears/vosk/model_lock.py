"""One installation of a model at a time."""

from pathlib import Path

from assistant.devices.ears.model_faults import ModelError
from assistant.locks.program_lock import HeldElsewhere, ProgramLock


def installing(folder: Path, name: str) -> ProgramLock:
    """Take the lock on this model in this folder; its small file stays there.

    Raises ``ModelError`` at once when another program holds it, ``OSError`` when no lock can
    be made there.
    """
    try:
        return ProgramLock(folder / f".{name}.lock")
    except HeldElsewhere as other:
        raise ModelError(
            f"{name} is being installed by another sweepsay{other.who}; "
            "wait until it has ended, then run the command again if need be"
        ) from None
