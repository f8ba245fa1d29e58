"""Short recordings as a whole."""

from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.devices.sound.files import read_blocks


def read_all(path: str | Path) -> npt.NDArray[np.int16]:
    """The whole file, mono at 16 kHz. Raises ``SoundFileError``."""
    return np.concatenate([*read_blocks(path), np.zeros(0, np.int16)])
