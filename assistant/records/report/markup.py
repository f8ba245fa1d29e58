"""HTML and SVG as a tree of escaped text: nothing from outside becomes markup.

Belongs here: the one way to make an element. What is shown is the business of the pages.
"""

from html import escape

from assistant.records.names import one_line

_VOID = frozenset(("meta", "br", "col", "line", "circle", "rect", "path", "polygon", "stop"))


class Markup:
    """A piece of finished markup; made by `tag` and `join` only."""

    __slots__ = ("text",)

    def __init__(self, text: str) -> None:
        self.text = text


Child = Markup | str | None


def tag(name: str, /, *children: Child, **attributes: str | float | None) -> Markup:
    """An element. Text is escaped, None is left out; ``class_`` and ``stroke_width`` become
    ``class`` and ``stroke-width``.

    >>> tag("p", "a < b", class_="note").text
    '<p class="note">a &lt; b</p>'
    """
    shown = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_value(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    inner = join(*children).text
    if name in _VOID and not inner:
        # A void element of HTML; in SVG, where these stand within HTML, a closed one.
        return Markup(f"<{name}{shown}>" if name in ("meta", "br", "col") else f"<{name}{shown}/>")
    return Markup(f"<{name}{shown}>{inner}</{name}>")


def join(*children: Child) -> Markup:
    """Pieces one after the other."""
    return Markup("".join(_text(child) for child in children))


def _text(child: Child) -> str:
    if child is None:
        return ""
    if isinstance(child, Markup):
        return child.text
    # Control characters are not allowed in HTML, nor wanted in what is copied from it.
    return escape(one_line(child, limit=2000), quote=False)


def _value(value: str | float) -> str:
    if isinstance(value, str):
        return one_line(value, limit=2000)
    return f"{value:.2f}".rstrip("0").rstrip(".")
