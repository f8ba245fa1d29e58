"""What made a record: the versions of the program and of what it leans on."""

import platform
import sqlite3
from importlib.metadata import PackageNotFoundError, version


def versions() -> dict[str, str]:
    """Name and version of the program, Python, SQLite and numpy."""
    return {
        "sweepsay": _of("sweepsay"),
        "Python": platform.python_version(),
        "SQLite": sqlite3.sqlite_version,
        "numpy": _of("numpy"),
    }


def _of(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        # Run from its sources without having been installed.
        return "from its sources"
