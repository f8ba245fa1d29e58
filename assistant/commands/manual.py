"""The ``manual`` command: all tables and explanations, printed or as a page."""

import argparse
import shutil
import sys
import webbrowser
from pathlib import Path
from typing import TextIO

from assistant.manual.as_text import as_text
from assistant.manual.content import manual
from assistant.records.places import default_record
from assistant.records.report.files import write_page

WIDEST = 100
"""Longer lines are hard to read."""


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay manual``."""
    target: Path | None = arguments.out
    if target is None and arguments.page:
        target = default_record().with_name("manual.html")
    if target is None:
        columns = min(WIDEST, shutil.get_terminal_size().columns)
        sys.stdout.write(as_text(manual(arguments.topic), columns))
        return 0
    write_page(manual(arguments.topic), target)
    return _shown(target, sys.stdout, opens=arguments.page)


def _shown(target: Path, out: TextIO, *, opens: bool) -> int:
    """Say where the page is, and open it if that is wished for and somebody can."""
    out.write(f"{target}\n")
    if opens and not webbrowser.open(target.resolve().as_uri()):
        sys.stderr.write("sweepsay: there is no browser here: open that file elsewhere\n")
    return 0
