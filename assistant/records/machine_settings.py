"""Single keys of a profile's text: changed in place, so that the person's comments stay."""

import re
from collections.abc import Sequence

from assistant.records.machine_toml import KEYS
from assistant.records.names import one_line
from assistant.records.toml_reader import ProfileError, line_of, quoted

_WHOLE = ("reach", "max_leaves", "per_turn")
_LIST = ("stock", "surface", "relock", "leaves")
_FLAG = ("counter",)


def set_keys(text: str, settings: Sequence[str]) -> str:
    """The text with "key=value" settings; the key as in the file, with its table if one likes.

    Whether the values can be used is for `read_profile` to say. Raises ProfileError.

    >>> set_keys('name = "a"  # mine', ["name=mill"])
    'name = "mill"  # mine'
    """
    for setting in settings:
        key, equals, value = setting.partition("=")
        if not equals:
            raise ProfileError("--set", None, f"{one_line(setting, 60)!r}: write key=value")
        text = _set(text, *_table_and_key(key.strip()), value.strip())
    return text


def _table_and_key(name: str) -> tuple[str, str]:
    table, _, key = name.rpartition(".")
    homes = [home for home, keys in KEYS.items() if key in keys and table in ("", home)]
    if len(homes) != 1:
        every = ", ".join(f"{home}.{key}" if home else key for home in KEYS for key in KEYS[home])
        raise ProfileError("--set", None, f"there is no {one_line(name, 40)!r}: there are {every}")
    return homes[0], key


def _set(text: str, table: str, key: str, value: str) -> str:
    lines = text.splitlines()
    number = line_of(text, table, key)
    line = lines[number - 1] if number else ""
    found = re.match(r"(\s*\"?" + re.escape(key) + r"\"?\s*=\s*)", line)
    if number and found:
        rest = line[found.end() :]
        lines[number - 1] = f"{found[1]}{_toml(key, value)}{_comment(rest)}"
    elif number:
        lines.insert(number, f"{key} = {_toml(key, value)}")
    elif table:
        lines += [f"[{table}]", f"{key} = {_toml(key, value)}"]
    else:
        lines.insert(0, f"{key} = {_toml(key, value)}")
    return "\n".join(lines) + ("\n" if text.endswith("\n") else "")


def _comment(rest: str) -> str:
    """What stands behind a value on its line, strings aside."""
    found = re.fullmatch(r"(?:\"(?:[^\"\\]|\\.)*\"|'[^']*'|[^\"'#])*?(\s*#.*)?", rest)
    return (found[1] or "") if found else ""


def _toml(key: str, value: str) -> str:
    if key in _WHOLE and re.fullmatch(r"[0-9]{1,9}", value, re.ASCII):
        return value
    if key in _FLAG and value in ("true", "false"):
        return value
    if key in _LIST:
        items = (item.strip(" \t[]\"'") for item in value.split(","))
        return f"[{', '.join(quoted(item) for item in items if item)}]"
    return quoted(value)
