"""Marks what is spoken, so that every prompt can be listed wherever its procedure stands.

A prompt that never changes is a constant declared ``Final``; one that is made is a function
marked ``@spoken``.
"""

from collections.abc import Callable
from types import ModuleType
from typing import Final, ParamSpec

_P = ParamSpec("_P")

_MADE: list[Callable[..., str]] = []


def spoken(make: Callable[_P, str]) -> Callable[_P, str]:
    """Mark a function that makes a prompt; it stays as it is."""
    _MADE.append(make)
    return make


def fixed(module: ModuleType) -> dict[str, str]:
    """The prompts of a module that never change, by name, in order."""
    names = [
        name for name, kind in vars(module).get("__annotations__", {}).items() if kind is Final
    ]
    return {name: vars(module)[name] for name in names if isinstance(vars(module)[name], str)}


def made(module: ModuleType) -> dict[str, Callable[..., str]]:
    """The prompts of a module that are made, by name, in order."""
    return {make.__name__: make for make in _MADE if make.__module__ == module.__name__}
