"""A view to rows of text in a given size: layout and nothing else.

Every row is exactly as wide as asked and there are exactly as many as asked. What was said last
and what is asked are always there, whole. What does not fit is left out in this order: the
picture of the table, the result, what can be said, the large letters.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.devices.screen.large_text import COARSE, FINE, large, largest_scale, width
from assistant.devices.screen.legend_picture import legend_picture, legend_words
from assistant.devices.screen.palette import Role, StyledLine
from assistant.devices.screen.table_picture import TABLE_COLUMNS, TABLE_ROWS, table_picture
from assistant.dialogue.view import Listening, View

SMALLEST_WITH_TABLE = (64, 18)
SMALLEST_WITH_TWO = 9
"""Rows for headline and number to be large both; with fewer the headline is."""

_LETTERS = 2
"""Rows for headline and stations at least, where nothing more pressing wants them."""

METER_CELLS = 10
METER_FLOOR_DB = -60.0

HEARING: dict[Listening, str] = {
    "listening": "LISTENING",
    "standing by": "STANDING BY: say go ahead",
    "too loud": "TOO LOUD: use the keypad",
    "no microphone": "NO MICROPHONE: keypad or typing",
    "closed": "CLOSED",
}


LEAVE = "Enter leaves."
"""Shown when the job is over."""

DEAF: frozenset[Listening] = frozenset({"too loud", "no microphone"})
"""When nothing that is said is heard: the keys are shown in place of the words."""


@dataclass(frozen=True, slots=True)
class Moment:
    """What the devices are doing now, beside the state of the job.

    ``level_db``: of the microphone, dB of full scale, None when there is none. ``words``:
    the line that is being typed. ``hears``: whether anybody listens to a microphone.
    ``keyed``: what a key completed a moment ago. ``leaves``: the job is over, and the screen
    waits for a key.
    """

    level_db: float | None = None
    speaking: bool = False
    words: str = ""
    hears: bool = True
    keyed: str = ""
    leaves: bool = False


def picture(
    view: View, moment: Moment, columns: int, rows: int, *, fine: bool = True
) -> list[StyledLine]:
    """The screen. ``fine``: block and line characters may be used, else plain ASCII."""
    columns, rows = max(1, columns), max(1, rows)
    head: list[StyledLine] = [_header(view, moment, columns, fine)]
    beside = _shows_legend(view, columns, rows)
    foot = _footer(view, moment, columns, rows, beside)
    left = rows - len(head) - len(foot)
    middle = _middle(view, columns, left, fine, beside) if left > 0 else []
    made = [*head, *middle, *[[] for _ in range(left - len(middle))], *foot]
    return [_exactly(row, columns) for row in made[:rows]]


def meter(level_db: float | None, fine: bool) -> str:
    """The level as a bar: empty at -60 dB, full at 0 dB of full scale."""
    if level_db is None:
        return ""
    share = (level_db - METER_FLOOR_DB) / -METER_FLOOR_DB
    filled = max(0, min(METER_CELLS, round(share * METER_CELLS)))
    on, off = ("▮", "▯") if fine else ("#", "-")
    return on * filled + off * (METER_CELLS - filled)


def _header(view: View, moment: Moment, columns: int, fine: bool) -> StyledLine:
    state = HEARING[view.listening]
    role: Role = "strong" if view.listening == "listening" else "alert"
    if view.listening == "listening":
        if moment.speaking:
            state = "SPEAKING"
        elif not moment.hears:
            state = "TYPED WORDS AND KEYPAD"
    level = meter(moment.level_db, fine) if view.listening == "listening" else ""
    right = len(state) + (len(level) + 1 if level else 0)
    sweep = f"sweep {view.sweep}  " if view.sweep else ""
    left = f"{view.machine}  {sweep}{view.phase}"
    room = columns - right - 2
    if room < 12:
        return [(role, state[:columns])]
    row: StyledLine = [("quiet", f"{_cut(left, room):<{room}}  "), (role, state)]
    if level:
        row += [("text", " "), ("meter", level)]
    return row


def _shows_legend(view: View, columns: int, rows: int) -> bool:
    """Whether the keypad stands where the table will: while there is nothing to see of it."""
    empty = all(each.mark == "missing" for each in view.stations)
    room = columns >= SMALLEST_WITH_TABLE[0] and rows >= SMALLEST_WITH_TABLE[1]
    return empty and bool(view.legend) and room


def _footer(view: View, moment: Moment, columns: int, rows: int, beside: bool) -> list[StyledLine]:
    """What was said and is asked, what is keyed, wrong, found and offered, the caution."""
    roomy = rows >= SMALLEST_WITH_TABLE[1]
    spoken = _spoken(view, columns, apart=roomy)[: max(1, rows - 2)]
    found = f"Before: {view.result}" if view.result_is_old else view.result
    if not view.result or view.result in view.said:
        found = ""
    caution = _wrapped(view.caution, columns, 2) if roomy else []
    parts: dict[str, list[StyledLine]] = {
        "words": _lines("text", [_typed(moment, columns)]),
        "lost": _lines("alert", [_cut(_missing(view), columns)]),
        "result": _lines("text", [_cut(found, columns)]),
        "offers": _lines("quiet", _wrapped(_offers(view, moment, beside), columns, 2)),
        "caution": _lines("quiet", caution or [_whole_sentences(view.caution, columns)]),
    }
    room = rows - 1 - _LETTERS - len(spoken)
    kept: set[str] = set()
    for name in ("caution", "words", "lost", "offers", "result"):
        # The large letters go for safety and for what was just done, and not for the rest.
        letters = -_LETTERS if name in ("caution", "words") else min(5, rows // 3) - 1
        if len(parts[name]) <= room - letters:
            room -= len(parts[name])
            kept.add(name)
    made = [*spoken, *(row for name, part in parts.items() if name in kept for row in part)]
    return made[: max(0, rows - 1)]


def _lines(role: Role, lines: Sequence[str]) -> list[StyledLine]:
    return [[(role, line)] for line in lines if line]


def _spoken(view: View, columns: int, *, apart: bool) -> list[StyledLine]:
    """The last thing said, whole, and what is asked now, which stands out.

    ``apart``: the question begins a row of its own.
    """
    before, asked, after = view.said.rpartition(view.step)
    if not asked:
        # Something else was said in its place: the question stays open.
        before, after = view.said, ""
    parts: list[tuple[Role, str]] = [("text", before), ("strong", view.step), ("text", after)]
    if apart:
        return [row for part in parts for row in _flowing([part], columns)]
    return _flowing(parts, columns)


def _flowing(parts: Sequence[tuple[Role, str]], columns: int) -> list[StyledLine]:
    """Text of several roles in as many rows as it takes, broken at spaces."""
    rows: list[StyledLine] = []
    left = 0
    for role, text in parts:
        for word in text.split():
            for piece in (word[at : at + columns] for at in range(0, len(word), columns)):
                if rows and len(piece) < left:
                    rows[-1].append((role, f" {piece}"))
                    left -= len(piece) + 1
                else:
                    rows.append([(role, piece)])
                    left = columns - len(piece)
    return rows


def _typed(moment: Moment, columns: int) -> str:
    """The line that is being typed, else what the keypad completed a moment ago."""
    if moment.words:
        return _cut(f"> {moment.words}", columns)
    return _cut(f"Keyed: {moment.keyed}", columns) if moment.keyed else ""


def _missing(view: View) -> str:
    return f"missing: {', '.join(view.lost)}" if view.lost else ""


def _offers(view: View, moment: Moment, beside: bool) -> str:
    """What can be said; what can be pressed where nothing that is said is heard."""
    if moment.leaves:
        return LEAVE
    if view.legend and (view.listening in DEAF or not moment.hears):
        return "" if beside else f"Keys: {legend_words(view.legend)}"
    return f"Say: {', '.join(view.offers)}" if view.offers else ""


def _middle(view: View, columns: int, rows: int, fine: bool, beside: bool) -> list[StyledLine]:
    """The large letters, with the table or the keypad beside them, or the stations below."""
    fits = columns >= SMALLEST_WITH_TABLE[0] and rows >= TABLE_ROWS
    if fits:
        left = _large_part(view, columns - TABLE_COLUMNS - 2, rows, fine)
        right = legend_picture(view.legend) if beside else table_picture(view, fine)
        left += [[] for _ in range(max(len(left), len(right)) - len(left))]
        right += [[] for _ in range(len(left) - len(right))]
        return [
            [*_exactly(a, columns - TABLE_COLUMNS - 1), *b]
            for a, b in zip(left, right, strict=True)
        ]
    # Where the keypad would stand beside, nothing is known of the stations yet.
    empty = all(each.mark == "missing" for each in view.stations)
    stations = [] if empty else _stations_line(view, columns)
    if rows <= 1:
        return [stations][:rows]
    return [*_large_part(view, columns, rows - 1, fine), stations]


def _large_part(view: View, columns: int, rows: int, fine: bool) -> list[StyledLine]:
    """The headline and under it the number, as large as both fit."""
    if rows < 3 or columns < 10:
        both = " ".join(part for part in (view.headline, view.number) if part)
        return [[("number", _cut(both, columns))]]
    if rows < SMALLEST_WITH_TWO and view.number:
        label = f"{_label(view)} {view.number}"
        line: StyledLine = [("number", _cut(label, columns))]
        return [*_large_rows(view.headline, columns, rows - 1, "strong", fine), line]
    with_number = bool(view.number)
    headline_rows = min(rows, 10) if not with_number else max(1, (rows - 1) * 2 // 5)
    made = _large_rows(view.headline, columns, headline_rows, "strong", fine)
    if with_number:
        above: StyledLine = [("text", _cut(_label(view), columns))]
        room = rows - len(made) - 1
        made += [above, *_large_rows(view.number, columns, min(room, 10), "number", fine)]
    return made[:rows]


def _label(view: View) -> str:
    return view.number_label + ("" if view.number_label.endswith("?") else ":")


def _large_rows(text: str, columns: int, rows: int, role: Role, fine: bool) -> list[StyledLine]:
    scale = largest_scale(text, columns, rows)
    if not fine:
        scale -= scale % 2
    if scale < 1:
        return [[(role, _cut(text, columns))]] if rows > 0 else []
    drawn = large(text, scale, FINE if fine else COARSE)
    assert width(text, scale) <= columns
    return [[(role, line)] for line in drawn]


def _stations_line(view: View, columns: int) -> StyledLine:
    parts = []
    for each in view.stations:
        shown = {"missing": "-", "awaited": "?"}.get(each.mark, each.value)
        again = "?" if each.mark == "asked again" else ""
        high = " high" if each.station in view.high else ""
        parts.append(f"{each.station} {shown or '?'}{again}{high}")
    line = "  ".join(parts)
    if len(line) > columns:
        line = "  ".join(
            f"{each.station[0].upper()}{each.value or ('?' if each.mark == 'awaited' else '-')}"
            f"{'^' if each.station in view.high else ''}"
            for each in view.stations
        )
    return [("text", _cut(line, columns))]


def _wrapped(text: str, columns: int, most: int) -> list[str]:
    """A text in at most so many lines, broken at spaces, the last one cut off with dots."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= columns:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    if len(lines) > most:
        lines[most - 1] = _cut(" ".join(lines[most - 1 :]), columns)
    return [_cut(line, columns) for line in lines[:most]]


def _whole_sentences(text: str, columns: int) -> str:
    """As many sentences from the beginning as there is room for; half of one misleads."""
    kept = ""
    for sentence in text.split(". "):
        longer = f"{kept} {sentence.removesuffix('.')}.".strip()
        if len(longer) > columns:
            break
        kept = longer
    return kept or _cut(text, columns)


def _cut(text: str, columns: int) -> str:
    if len(text) <= columns:
        return text
    return text[: max(0, columns - 2)] + ".." if columns >= 4 else text[:columns]


def _exactly(row: StyledLine, columns: int) -> StyledLine:
    """A row cut or filled to its width."""
    made: StyledLine = []
    left = columns
    for role, text in row:
        if left <= 0:
            break
        made.append((role, text[:left]))
        left -= len(text[:left])
    if left > 0:
        made.append(("text", " " * left))
    return made
