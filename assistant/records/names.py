"""Names from outside: made harmless for a terminal and for the file system."""

import re
import unicodedata

from assistant.records.faults import RecordError

MAX_NAME = 64

LONGEST_MESSAGE = 500

_JOB_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
# Device names of one large family of systems, whatever their ending.
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
# Control, format (among them those that turn the direction of writing), surrogate, private,
# not assigned; line and paragraph separators.
_HIDDEN = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))


def one_line(text: str, limit: int = 200) -> str:
    """The text as it may be printed: what could steer a terminal becomes "?", long is cut.

    >>> one_line("drill\\x1b[2J press")
    'drill?[2J press'
    """
    shown = "".join("?" if unicodedata.category(char) in _HIDDEN else char for char in text)
    return shown if len(shown) <= limit else shown[: limit - 1] + "…"


def message_line(text: str, limit: int = LONGEST_MESSAGE) -> str:
    """A message as it may be printed; of a long one the middle is left out.

    What is wrong stands at its beginning, what to do at its end.

    >>> message_line("name " + "x" * 40 + ": use a shorter one", 40)
    'name xxxxxxxxxxxxxx…x: use a shorter one'
    """
    if len(text) > limit:
        text = f"{text[: limit // 2 - 1]}…{text[-(limit // 2) :]}"
    return one_line(text, limit)


def check_job_id(job_id: str) -> None:
    """Raise RecordError unless the identifier is safe as a name of files."""
    if not _JOB_ID.fullmatch(job_id) or _RESERVED.fullmatch(job_id):
        raise RecordError(
            "bad_name",
            f"job name {one_line(job_id)!r}: use 1 to {MAX_NAME} letters, digits, - and _",
        )


def file_name_of(name: str) -> str:
    """The name of a file for a machine's name, without ending; raises RecordError.

    >>> file_name_of("Bench drill press")
    'bench-drill-press'
    """
    plain = unicodedata.normalize("NFKC", name).strip().lower()
    stem = re.sub(r"[\s_-]+", "-", plain)
    if not re.fullmatch(r"\w[\w-]{0,63}", stem) or _RESERVED.fullmatch(stem):
        raise RecordError(
            "bad_name",
            f"machine name {one_line(name)!r}: use 1 to {MAX_NAME} letters, digits and spaces",
        )
    return stem
