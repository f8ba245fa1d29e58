"""The manual's tables, made from those that the program runs by, so that they cannot differ."""

import argparse
from collections.abc import Iterator

from assistant.arguments import build_parser
from assistant.records.report.blocks import Grid
from grammar.vocabulary import TABLE, TERM_OF_KEY

NO_NUMBERS: frozenset[int] = frozenset()

PAD = (("Num", "/", "*", "-"), ("7", "8", "9", "+"), ("4", "5", "6", ""),
       ("1", "2", "3", "Enter"), ("0", "", ".", ""))  # fmt: skip
"""The seventeen keys where they usually are."""


def words() -> Grid:
    """The spoken words, from the vocabulary."""
    rows = tuple((", ".join(term.says), term.help) for term in TABLE if term.help)
    return Grid(("say", "for"), rows, NO_NUMBERS)


def typed_words() -> Grid:
    """Further words that are taken when they are typed, from the vocabulary."""
    rows = tuple((", ".join(term.typed), term.says[0]) for term in TABLE if term.typed)
    return Grid(("typed", "for"), rows, NO_NUMBERS)


def pad() -> Grid:
    """The keypad as it lies on the bench: what each key does alone, and after /."""
    rows = tuple(tuple(f"{key}  {_does(key)}".strip() for key in row) for row in PAD)
    return Grid(("", "", "", ""), rows, NO_NUMBERS)


def _does(key: str) -> str:
    alone = {"/": "/ / disregard", "+": "plus", "-": "minus, no", "Enter": "yes, done ...",
             ".": "decimal point", "6": "/ 6 talk"}  # fmt: skip
    if key == "*":
        return TERM_OF_KEY["*"][0]
    paired = TERM_OF_KEY.get(f"/{key}", ())
    return alone.get(key) or (f"/ {key} {paired[0]}" if paired else "")


def keys() -> Grid:
    """What the keys do, from the vocabulary."""
    rows = [("0 to 9 . + - then Enter", "a reading; - also answers no")]
    named: dict[str, list[str]] = {}
    for term in TABLE:
        if term.key and term.kind == "command" and term.key != "-":
            named.setdefault(term.key, []).append(term.says[0])
    for key, said in sorted(named.items()):
        rows.append(("Enter" if key == "enter" else " ".join(key), ", ".join(said)))
    rows.append(("/ 6", "talk key: once before a call, once after it"))
    rows.append(("/ while typing", "clear what was typed"))
    return Grid(("keys", "for"), tuple(rows), NO_NUMBERS)


def commands() -> Grid:
    """Every command with what it is for, from the argument parser."""
    return Grid(("command", "for"), tuple(_commands(build_parser(), "sweepsay")), NO_NUMBERS)


def _commands(parser: argparse.ArgumentParser, above: str) -> Iterator[tuple[str, str]]:
    inner = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    for action in inner:
        for name, below in action.choices.items():
            yield from _commands(below, f"{above} {name}")
    if not inner:
        told = (parser.description or "").removesuffix(".")
        yield above, f"{told[:1].lower()}{told[1:]}"


SETTINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        'dial that counts one way round: "ninety seven" is minus three, and is read back so',
        ("face=continuous", "per_turn=100"),
    ),
    ("small dial with a hand that counts turns", ("counter=true",)),
    (
        "lever indicator at an angle; an involute tip makes up for 20 degrees itself",
        ("lever=15", "tip=involute"),
    ),
    (
        "rig whose sign is not known: one leaf under the tip tells it, and it is kept",
        ("higher=ask",),
    ),
    (
        "bent rod and feeler leaves: call the thickest that goes; no signs, a bigger gap is lower",
        ("method=gap", "set_to=10"),
    ),
    (
        "bent rod lowered until it drags, by feel or ear: which side first, then next; no "
        "amounts, so a trial leaf, halved each time it flips",
        ("method=touch",),
    ),
    (
        "square against a straight bar and a leaf at top or bottom, all four sides: the square's "
        "own error cancels",
        ("method=square", "square_height=6 in"),
    ),
)
"""Ways of measuring: what is at the machine, and its profile's settings."""


def ways() -> Grid:
    """Ways of measuring, with the settings that a profile has for them."""
    rows = tuple((what, ", ".join(settings)) for what, settings in SETTINGS)
    return Grid(("at the machine", "in its profile"), rows, NO_NUMBERS)


TROUBLE: tuple[tuple[str, str], ...] = (
    ("nothing is heard, or too much", "sweepsay check --try"),
    (
        "it hears badly in the noise",
        "the keypad; a headset (--headset); the talk key, / 6 or the space bar",
    ),
    (
        "it answers itself, or hears you only after a while",
        "sweepsay check tells how late the speaker is; one with a cable is not",
    ),
    ("nothing can be heard of it", "--voice off: all that it says is on the screen"),
    ("the voice is too fast, too soft", "--rate, --volume, --tones"),
    ("a reading is wrong", '"correction" and the number; "disregard" takes it back'),
    ("you have to leave", '"stop", or just switch off: the job is offered again'),
    (
        "it asks for a station again and again",
        "check bar, clamp and dial for play; the table may not be flat",
    ),
    (
        "a station is beyond the dial",
        "call it twice and say yes, if the dial does show it; where the tip runs out of travel, "
        "zero it half pressed in, or bring the table nearer by eye and say start over; after a "
        "shim, say disregard as far back as the shim and take it out",
    ),
    (
        "the dial sticks, or comes back elsewhere",
        "lift the tip and let it settle before each reading; clean a dial that still sticks",
    ),
    ("the window is too small", "80 x 24 shows all; 40 x 12 still works; --no-screen prints lines"),
    ("a screen reader is used", "--no-screen"),
    ("colours cannot be told apart", "--theme 'high contrast', or NO_COLOR=1"),
    ("no sound on Linux", "install libportaudio2 (Debian, Ubuntu) or portaudio (Fedora, Arch)"),
    (
        "the record is damaged, or its disk full",
        "the message says what to do; nothing that was read back is lost",
    ),
)
"""What is wrong, and what to do."""


def trouble() -> Grid:
    """What is wrong, and what to do."""
    return Grid(("what", "what to do"), TROUBLE, NO_NUMBERS)
