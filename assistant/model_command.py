"""The ``model install`` command: a Vosk model downloaded, checked and unpacked."""

from dataclasses import replace
from typing import TextIO

from assistant.devices.model_store import ModelError, in_catalogue, install, models_folder


def run_model_install(
    name: str | None, *, sha256: str | None = None, out: TextIO, err: TextIO
) -> int:
    """Install the model of this name, or the default; 0 when it is there.

    ``sha256`` takes the place of the catalogue's sum. Progress goes to ``err``, the folder
    of the model to ``out``.
    """
    try:
        model = in_catalogue(name)
        if sha256 is not None:
            model = replace(model, sha256=sha256)
        path = install(model, models_folder(), _Progress(model.name, err))
    except ModelError as error:
        err.write(f"{error}\n")
        return 1
    out.write(f"{path}\n")
    return 0


class _Progress:
    """A line that is written over at every whole percent, or megabyte."""

    def __init__(self, name: str, err: TextIO) -> None:
        self._name, self._err, self._shown = name, err, ""

    def __call__(self, there: int, total: int | None) -> None:
        megabytes = f"{there / 1e6:.0f} MB"
        text = f"{100 * there // total} % of {total / 1e6:.0f} MB" if total else megabytes
        if text != self._shown:
            self._shown = text
            ending = "\n" if there == total else ""
            self._err.write(f"\r{self._name}: {text}{ending}")
            self._err.flush()
