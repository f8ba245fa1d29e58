"""The picture as plain lines, for screen readers, logs and terminals that cannot do more.

A line is told when something changes, in words, and never repeats what the prompts say.
"""

from assistant.devices.screen.legend_picture import legend_words
from assistant.devices.screen.picture import HEARING
from assistant.dialogue.view import View


def changes(before: View | None, after: View) -> list[str]:
    """What is new in a view, a line each."""
    lines: list[str] = []
    if before is None:
        lines.append(f"{after.machine}. {after.caution}")
        if after.legend:
            lines.append(f"Keys: {legend_words(after.legend)}")
    if before is None or before.listening != after.listening:
        lines.append(f"{HEARING[after.listening].capitalize()}.")
    if before is not None and before.entry != after.entry and after.entry:
        lines.append(f"Typed: {after.entry}")
    if before is not None and before.lost != after.lost:
        lines.append(f"Missing: {', '.join(after.lost) or 'nothing'}.")
    known = before is not None and (before.sweep, before.result) == (after.sweep, after.result)
    if after.result and not after.result_is_old and not known:
        lines.append(f"{_readings(after)} {after.result}")
    return lines


def _readings(view: View) -> str:
    """The four readings of the sweep."""
    read = [f"{each.station} {each.value}" for each in view.stations if each.value]
    return f"Sweep {view.sweep}: {', '.join(read)}."
