"""The code on a machine's sheet: its readings as text that `sweepsay solve` takes.

Whoever finds the sheet on the wall without the record that it came from can scan it with
any telephone and work out what the last sweep says by itself; how it was left is by all sweeps of
the job. Drawn by segno; nothing is looked up anywhere.
"""

from decimal import Decimal

import segno

from assistant.dialogue.state import CompletedSweep
from assistant.metrology.lengths import Length
from assistant.records.journal.history import History
from assistant.records.names import one_line
from assistant.records.report.markup import Markup, tag
from assistant.records.report.wording import Words
from grammar.vocabulary import STATIONS

QUIET = 4
"""Modules of white around the code (ISO/IEC 18004)."""


def code_text(history: History, words: Words) -> str | None:
    """The last usable sweep as a readings file; None without one of the four stations.

    Only of a dial whose numbers say by themselves how high the table is: the rest would be
    read the wrong way by whoever does not know how it was measured.
    """
    usable = history.state.usable_sweeps
    held = words.profile.instrument
    plain = words.profile.method == "indicator" and held.higher == "plus" and not held.lever_deg
    if not usable or not plain or not _is_plain(usable[-1]):
        return None
    found, left = usable[0].answer, usable[-1].answer
    shims = words.shims_of(history.state)
    shim = f", shim {shims}" if shims else ""
    machine = one_line(history.row.machine, 40)
    left_by = f"{words.number(left.tilt)} {words.unit}{' by all sweeps' if usable[1:] else ''}"
    lines = [
        f"# {machine}, {history.row.started_at[:10]}, job {history.row.id}",
        f"# found {words.number(found.tilt)}, left {left_by}{shim}",
        f'unit = "{words.unit}"',
        f'sweep_diameter = "{_exact(words.profile.sweep_diameter, words)}"',
    ]
    values = {taken.station: taken.value for taken in usable[-1].readings if not taken.closing}
    called = (f'{station} = "{_count(values[station], words)}"' for station in STATIONS)
    lines.append(f"readings = {{ {', '.join(called)} }}")
    for taken in usable[-1].readings:
        if taken.closing:
            lines.append(f'closing = "{_count(taken.value, words)}"')
    return "\n".join(lines) + "\n"


def code_drawing(text: str) -> Markup:
    """The code as SVG, with the white that it needs around it."""
    made = segno.make(text, error="m", encoding="utf-8", micro=False)
    rows = [list(row) for row in made.matrix]
    size = len(rows) + 2 * QUIET
    runs: list[str] = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            wide = 0
            while x + wide < len(row) and row[x + wide]:
                wide += 1
            if wide:
                runs.append(f"M{x + QUIET} {y + QUIET}h{wide}v1h-{wide}z")
            x += max(wide, 1)
    return tag(
        "svg",
        tag("title", "Code with the readings"),
        tag("rect", x=0, y=0, width=size, height=size, fill="#ffffff"),
        # Not through ``tag``, which cuts long values: these are numbers of our own.
        Markup(f'<path d="{"".join(runs)}" fill="#000000"/>'),
        viewBox=f"0 0 {size} {size}", role="img", class_="code",
    )  # fmt: skip


def _is_plain(sweep: CompletedSweep) -> bool:
    """Whether it is one reading at each station, and the first one again."""
    stations = [taken.station for taken in sweep.readings if not taken.closing]
    return sorted(stations) == sorted(STATIONS)


def _count(counts: Decimal, words: Words) -> str:
    return f"{(counts if words.unit == 'thou' else counts / 100).normalize():f}"


def _exact(size: Length, words: Words) -> str:
    return words.length(size)
