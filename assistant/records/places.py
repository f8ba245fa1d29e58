"""Where things are kept when no other place is named."""

import os
from pathlib import Path

import platformdirs

_NAME = "sweepsay"


def default_record() -> Path:
    """The record of all jobs."""
    return platformdirs.user_data_path(_NAME, appauthor=False) / "jobs.db"


def is_default_record(path: Path) -> bool:
    """Whether this file is the record of all jobs, by whatever links."""
    return os.path.realpath(path) == os.path.realpath(default_record())


def default_profiles() -> Path:
    """The folder of machine profiles."""
    return platformdirs.user_config_path(_NAME, appauthor=False) / "machines"


def default_settings() -> Path:
    """The file that remembers how the bench sounds and listens."""
    return platformdirs.user_config_path(_NAME, appauthor=False) / "bench.toml"


def default_voice() -> Path:
    """The file that keeps what was learnt of the voice that was heard last."""
    return platformdirs.user_data_path(_NAME, appauthor=False) / "voice.json"
