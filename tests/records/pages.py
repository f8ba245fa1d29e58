"""The report of a history in both forms, without a file."""

from assistant.records.journal.history import History
from assistant.records.report.content import report_of
from assistant.records.report.html_page import html_page
from assistant.records.report.pdf_page import pdf_page


def report_html(history: History) -> str:
    """The page as HTML."""
    return html_page(report_of(history))


def report_pdf(history: History) -> bytes:
    """The page as PDF."""
    return pdf_page(report_of(history))
