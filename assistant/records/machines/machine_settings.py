"""Single keys of a profile's text: changed in place, so that the person's comments stay."""

import re
from collections.abc import MutableMapping, Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from assistant.records.machines.machine_toml import KEYS, read_profile
from assistant.records.names import one_line
from assistant.records.readings.toml_reader import ProfileError

_WHOLE = ("reach", "max_leaves", "per_turn")
_LIST = ("stock", "surface", "relock", "leaves")
_FLAG = ("counter",)


def set_keys(text: str, settings: Sequence[str], source: str = "the profile") -> str:
    """The text with "key=value" settings; the key as in the file, with its table if one likes.

    Whether the values can be used is for `read_profile` to say. Raises ProfileError.

    >>> set_keys('name = "a"  # mine', ["name=mill"])
    'name = "mill"  # mine'
    """
    document = _parsed(text, source)
    for setting in settings:
        key, equals, value = setting.partition("=")
        if not equals:
            raise ProfileError("--set", None, f"{one_line(setting, 60)!r}: write key=value")
        table, name = _table_and_key(key.strip())
        home: Any = document.setdefault(table, tomlkit.table()) if table else document
        if not isinstance(home, MutableMapping):
            # The usual reader knows its line.
            read_profile(text, source)
        home[name] = _value(name, value.strip())
    return tomlkit.dumps(document)


def _parsed(text: str, source: str) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError):
        # The usual reader says what is wrong, and in which line.
        read_profile(text, source)
        raise ProfileError(source, None, "it cannot be changed like this: edit it") from None


def _table_and_key(name: str) -> tuple[str, str]:
    table, _, key = name.rpartition(".")
    homes = [home for home, keys in KEYS.items() if key in keys and table in ("", home)]
    if len(homes) != 1:
        every = ", ".join(f"{home}.{key}" if home else key for home in KEYS for key in KEYS[home])
        raise ProfileError("--set", None, f"there is no {one_line(name, 40)!r}: there are {every}")
    return homes[0], key


def _value(key: str, value: str) -> str | int | bool | list[str]:
    if key in _WHOLE and re.fullmatch(r"[0-9]{1,9}", value, re.ASCII):
        return int(value)
    if key in _FLAG and value in ("true", "false"):
        return value == "true"
    if key in _LIST:
        items = (item.strip(" \t[]\"'") for item in value.split(","))
        return [item for item in items if item]
    return value
