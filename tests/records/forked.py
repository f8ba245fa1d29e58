"""Something done in a process of its own: with a limit on files, or without root's rights."""

import os
import pickle
import resource
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

_NOBODY = 65534


def in_child(work: Callable[[], Any]) -> Any:
    """The result of ``work`` in a forked process; whatever it raises fails the test here."""
    source, target = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(source)
        try:
            data = pickle.dumps((True, work()))
        except Exception:  # noqa: BLE001 - it is handed to the parent, which fails on it
            data = pickle.dumps((False, traceback.format_exc()))
        with os.fdopen(target, "wb") as file:
            file.write(data)
        os._exit(0)
    os.close(target)
    with os.fdopen(source, "rb") as file:
        good, result = pickle.loads(file.read())
    os.waitpid(child, 0)
    assert good, result
    return result


@contextmanager
def files_at_most(size: int) -> Iterator[None]:
    """No file can grow beyond ``size`` bytes: writing more fails, as on a full disk.

    setrlimit(2), RLIMIT_FSIZE; Python ignores the signal, so that the write gives EFBIG.
    """
    _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))


def without_rights(work: Callable[[], Any]) -> Any:
    """The result of ``work`` done by somebody whom permissions hold back, unlike root."""

    def plainly() -> Any:
        if os.getuid() == 0:
            os.setgroups([])
            os.setgid(_NOBODY)
            os.setuid(_NOBODY)
        return work()

    return in_child(plainly)


@contextmanager
def open_folder() -> Iterator[Path]:
    """A folder that everybody may enter and change, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o777)
        yield folder
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o777)
