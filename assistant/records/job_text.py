"""A job as lines for a terminal: the list, and one job in full."""

from collections.abc import Sequence

from assistant.dialogue.state import Taken
from assistant.records.journal.history import History
from assistant.records.journal.journal import JobRow
from assistant.records.names import one_line
from assistant.records.report.left_to_do import left_to_do
from assistant.records.report.verdicts import verdict_of
from assistant.records.report.wording import Words, minute_of
from grammar.vocabulary import STATIONS


def list_lines(rows: Sequence[JobRow]) -> list[str]:
    """One line for each job, newest last; nothing from outside can steer the terminal."""
    if not rows:
        return ["no jobs yet: 'sweepsay run' starts one"]
    name_width = max(len(row.id) for row in rows)
    machine_width = max(len(one_line(row.machine, 30)) for row in rows)
    return [
        f"{row.id:{name_width}}  {one_line(row.machine, 30):{machine_width}}  "
        f"{minute_of(row.started_at):>28}  {'closed' if row.closed_at else 'open':6}  "
        f"{row.events:6} events"
        for row in rows
    ]


def job_lines(history: History) -> list[str]:
    """The whole job in words and figures, as found and as left first."""
    words = Words(history.state.profile)
    row = history.row
    verdict = verdict_of(history, words)
    lines = [
        f"job            {row.id}",
        f"machine        {one_line(row.machine, 60)}",
        f"started        {minute_of(row.started_at)}",
        f"sweep          {words.length(words.profile.sweep_diameter)} across, "
        f"tolerance {words.tolerance()}",
        f"verdict        {verdict.text} {verdict.more}".rstrip(),
    ]
    several = len(history.state.usable_sweeps) > 1
    last = "as left" if history.finished else "last sweep"
    for title, answer in (("as found", history.as_found), (last, history.as_left)):
        if answer is not None and (several or title == "as found"):
            lines += [
                f"{title:14} front to back: {words.front_to_back(answer)}",
                f"               side to side: {words.side_to_side(answer)}",
                f"               tilt {words.tilt(answer)}",
            ]
    shims = words.shims_of(history.state)
    if shims or history.state.shims.trials:
        lines.append(f"shim in        {shims or words.shim_in(history.state.shims.total)}")
    for place, told in enumerate(left_to_do(history, words)):
        lines.append(f"{'' if place else 'left to do':14} {told}")
    if history.sweeps:
        lines.append(f"sweeps         {'back':>8}{'right':>8}{'front':>8}{'left':>8}{'again':>8}")
        lines += [_sweep_line(history, k, words) for k in range(len(history.sweeps))]
    for kept in history.undone:
        reason = kept.undone.reason if kept.undone else ""
        value = f"{kept.taken.station} {words.called(kept.taken.value)}"
        lines.append(f"taken back     sweep {kept.taken.sweep}, {value}: {reason}")
    if history.damage is not None:
        lines.append(f"damage         {history.damage}")
    return lines


def _sweep_line(history: History, place: int, words: Words) -> str:
    sweep = history.sweeps[place]
    cells = [f"{words.called(taken.value):>8}" for taken in _in_order(history, place)]
    refused = f"  not used: {sweep.refused}" if sweep.refused else f"  {sweep.place}".rstrip()
    return f"  {sweep.number:<13}{''.join(cells)}{refused}"


def _in_order(history: History, place: int) -> Sequence[Taken]:
    readings = history.sweeps[place].readings
    first = {taken.station: taken for taken in readings if not taken.closing}
    again = [taken for taken in readings if taken.closing]
    return [first[station] for station in STATIONS if station in first] + again
