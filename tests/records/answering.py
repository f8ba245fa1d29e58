"""A command run here by somebody who answers yes once."""

import io
import sys

import pytest

from assistant.__main__ import main


def answered(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *arguments: str
) -> tuple[int, str, str]:
    """Its exit code, and what it printed on either stream."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n"))
    code = main(arguments)
    return code, *capsys.readouterr()
