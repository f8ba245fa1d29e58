"""The report of a job as files: an HTML page for wall and screen, a PDF for paper and mail."""

from pathlib import Path

from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.records.report.blocks import Document
from assistant.records.report.content import report_of
from assistant.records.report.html_page import html_page
from assistant.records.whole_files import replace_file


def write_report(journal: Journal, job_id: str, path: Path) -> None:
    """Write the report of a job, whole or not at all; as PDF if the name ends so, else HTML.

    Raises RecordError.
    """
    write_page(report_of(history_of(journal, job_id)), path)


def write_page(document: Document, path: Path) -> None:
    """Write a document, whole or not at all; as PDF if the name ends so, else HTML.

    Raises RecordError.
    """
    pdf = path.suffix.lower() == ".pdf"
    replace_file(path, _pdf(document) if pdf else html_page(document).encode("utf-8"))


def _pdf(document: Document) -> bytes:
    # Libraries for fonts and pictures are loaded for this alone.
    from assistant.records.report.pdf_page import pdf_page

    return pdf_page(document)
