"""`sweepsay job`: list, show, report, trend, export, import, backup, audio.

Each function takes parsed arguments and text streams and returns the exit code; RecordError
goes up to the one place that prints it. With ``as_json`` nothing but JSON goes to ``out``.
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Literal, TextIO

from assistant.records.export import MAX_EXPORT_BYTES, export_csv, export_json, import_job
from assistant.records.faults import RecordError
from assistant.records.job_text import job_lines, list_lines
from assistant.records.journal.elsewhere import write_copy
from assistant.records.journal.history import History, history_of
from assistant.records.journal.journal import JobRow, Journal
from assistant.records.journal.record_files import check_place, has_content, log_of
from assistant.records.names import file_name_of, one_line
from assistant.records.places import default_record
from assistant.records.report.files import write_page, write_report
from assistant.records.report.trend import trend_of
from assistant.records.report.wall_sheet import sheet_of
from assistant.records.whole_files import read_file, replace_file

Format = Literal["json", "csv"]

LONGEST_PATH = 4_096
"""PATH_MAX of Linux (limits.h): no path is cut."""


def job_list(record: Path, *, as_json: bool, out: TextIO, err: TextIO) -> int:
    """Every job of the record, oldest first."""
    with _reading(record, err) as journal:
        rows = journal.jobs()
    if as_json:
        out.write(json.dumps([_row_json(row) for row in rows]) + "\n")
    else:
        out.writelines(f"{line}\n" for line in list_lines(rows))
        if has_content(log_of(record)):
            _tell("a job may be going on: 'sweepsay job backup FILE' copies the record whole", err)
    return 0


def job_show(record: Path, job: str | None, *, as_json: bool, out: TextIO, err: TextIO) -> int:
    """One job in full; the newest where none is named."""
    with _reading(record, err) as journal:
        history = history_of(journal, _chosen(journal, job).id)
    if as_json:
        out.write(export_json(history))
    else:
        out.writelines(f"{line}\n" for line in job_lines(history))
    _tell_damage(history, err)
    return 0


def job_report(
    record: Path, job: str | None, folder: Path, *, as_json: bool, out: TextIO, err: TextIO
) -> int:
    """The report of a job as HTML and PDF in a folder; the files are named on ``out``."""
    with _reading(record, err) as journal:
        name = _chosen(journal, job).id
        page, paper = folder / f"{name}.html", folder / f"{name}.pdf"
        write_report(journal, name, page)
        write_report(journal, name, paper)
    if as_json:
        out.write(json.dumps({"job": name, "html": str(page), "pdf": str(paper)}) + "\n")
    else:
        out.writelines(f"{_printed(each)}\n" for each in (page, paper))
    return 0


def job_sheet(
    record: Path, job: str | None, folder: Path, *, as_json: bool, out: TextIO, err: TextIO
) -> int:
    """The sheet of a job for its machine, as HTML and PDF; the files are named on ``out``."""
    with _reading(record, err) as journal:
        history = history_of(journal, _chosen(journal, job).id)
    document = sheet_of(history)
    page, paper = (folder / f"{history.row.id}-sheet.{kind}" for kind in ("html", "pdf"))
    write_page(document, page)
    write_page(document, paper)
    if as_json:
        row = {"job": history.row.id, "html": str(page), "pdf": str(paper)}
        out.write(json.dumps(row) + "\n")
    else:
        out.writelines(f"{_printed(each)}\n" for each in (page, paper))
    return 0


def job_trend(
    record: Path, machine: str, folder: Path, *, as_json: bool, out: TextIO, err: TextIO
) -> int:
    """The trend of a machine's jobs as HTML and PDF in a folder; the files are named on ``out``."""
    with _reading(record, err) as journal:
        document = trend_of(journal, machine)
    stem = f"trend-{file_name_of(machine)}"
    page, paper = folder / f"{stem}.html", folder / f"{stem}.pdf"
    write_page(document, page)
    write_page(document, paper)
    if as_json:
        row = {"machine": machine, "html": str(page), "pdf": str(paper)}
        out.write(json.dumps(row) + "\n")
    else:
        out.writelines(f"{_printed(each)}\n" for each in (page, paper))
    return 0


def job_export(
    record: Path, job: str | None, form: Format, target: Path | None, *, out: TextIO, err: TextIO
) -> int:
    """A job as JSON or CSV, on ``out`` or into a file."""
    with _reading(record, err) as journal:
        history = history_of(journal, _chosen(journal, job).id)
    text = export_json(history) if form == "json" else export_csv(history)
    if target is None:
        out.write(text)
    else:
        replace_file(target, text.encode("utf-8"))
    _tell_damage(history, err)
    return 0


def job_import(record: Path, source: Path, *, as_json: bool, out: TextIO, err: TextIO) -> int:
    """Take an exported job into the record, whole or not at all."""
    data = read_file(source, MAX_EXPORT_BYTES)
    with Journal.open(record) as journal:
        for line in journal.told():
            _tell(line, err)
        row = import_job(journal, data)
    if as_json:
        out.write(json.dumps(_row_json(row)) + "\n")
    else:
        out.write(f"job {row.id} is in the record: {row.events} events\n")
    return 0


def job_backup(record: Path, target: Path, *, as_json: bool, out: TextIO, err: TextIO) -> int:
    """The whole record as one file, also while a job is played; `--db` opens it."""
    check_place(target)
    with _reading(record, err) as journal:
        write_copy(target, journal.copy_to)
        count = len(journal.jobs())
    if as_json:
        out.write(json.dumps({"backup": str(target), "jobs": count}) + "\n")
    else:
        there = _printed(target)
        out.write(f"{there}: {count} jobs; 'sweepsay run --db {there}' goes on from it\n")
    return 0


def audio_list(record: Path, job: str | None, *, as_json: bool, out: TextIO) -> int:
    """The utterances that were kept as sound: of one job, or of all."""
    from assistant.records.journal import kept_audio

    found = kept_audio.kept(record, job)
    if as_json:
        out.write(json.dumps([kept_audio.as_row(each) for each in found]) + "\n")
        return 0
    for each in found:
        out.write(
            f"{each.job}  event {each.event:<5} {each.outcome:7} {each.seconds:5.1f} s  "
            f"{each.words}\n"
        )
    if not found:
        out.write("no audio is kept\n")
    return 0


def audio_delete(record: Path, job: str, event: int | None, *, as_json: bool, out: TextIO) -> int:
    """Delete the utterances of a job, or that of one event; what was understood stays."""
    from assistant.records.journal import kept_audio

    count = kept_audio.delete(record, job, event)
    if as_json:
        out.write(json.dumps({"job": job, "deleted": count}) + "\n")
    else:
        out.write(f"{count} utterances of job {job} are deleted; its record stays\n")
    return 0


def _printed(path: Path) -> str:
    """A path as it may be printed; ``--json`` has it as it is."""
    return one_line(str(path), LONGEST_PATH)


def _reading(record: Path, err: TextIO) -> Journal:
    return Journal.read(record, lambda line: _tell(line, err))


def _tell(line: str, err: TextIO) -> None:
    err.write(f"sweepsay: {one_line(line, 400)}\n")


def _tell_damage(history: History, err: TextIO) -> None:
    if history.damage is not None:
        err.write(f"sweepsay: {history.damage}: what was before it is shown\n")


def _chosen(journal: Journal, name: str | None) -> JobRow:
    """The job of that name, or of a name that begins so and is the only one; else the newest."""
    rows = [row for row in journal.jobs() if row.events]
    if not rows:
        raise RecordError("no_job", "there are no jobs yet: 'sweepsay run' starts one")
    if name is None:
        return rows[-1]
    alike = [row for row in rows if row.id == name] or [r for r in rows if r.id.startswith(name)]
    if len(alike) == 1 and name:
        return alike[0]
    shown = one_line(name, 60)
    if not alike or not name:
        raise RecordError("no_job", f"there is no job {shown!r}: 'sweepsay job list' shows them")
    raise RecordError("no_job", f"{len(alike)} jobs begin with {shown!r}: write more of the name")


def _row_json(row: JobRow) -> dict[str, str | int | None]:
    return {
        "job": row.id,
        "machine": row.machine,
        "started_at": row.started_at,
        "closed_at": row.closed_at,
        "events": row.events,
    }


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay job``."""

    record, out, err = arguments.db or default_record(), sys.stdout, sys.stderr
    match arguments.action:
        case "list":
            return job_list(record, as_json=arguments.json, out=out, err=err)
        case "show":
            return job_show(record, arguments.job, as_json=arguments.json, out=out, err=err)
        case "report":
            return job_report(
                record, arguments.job, arguments.out, as_json=arguments.json, out=out, err=err
            )
        case "audio":
            if arguments.audio == "list":
                return audio_list(record, arguments.job, as_json=arguments.json, out=out)
            return audio_delete(
                record, arguments.job, arguments.event, as_json=arguments.json, out=out
            )
        case "sheet":
            return job_sheet(
                record, arguments.job, arguments.out, as_json=arguments.json, out=out, err=err
            )
        case "backup":
            return job_backup(record, arguments.file, as_json=arguments.json, out=out, err=err)
        case "trend":
            return job_trend(
                record, arguments.machine, arguments.out, as_json=arguments.json, out=out, err=err
            )
        case "export":
            return job_export(
                record, arguments.job, arguments.format, arguments.out, out=out, err=err
            )
        case _:
            return job_import(record, arguments.file, as_json=arguments.json, out=out, err=err)
