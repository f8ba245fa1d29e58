"""The one table of spoken words: recogniser, parser, keypad, help and README read it.

Only words and their keys belong here; what a command does is the dialogue's business.
The radiotelephony words (say again, correction, disregard, affirm, negative, stand by,
go ahead, decimal) have the meaning of ICAO Annex 10 volume II and Doc 9432.
"""

from dataclasses import dataclass
from typing import Literal

Station = Literal["back", "right", "front", "left"]
STATIONS: tuple[Station, ...] = ("back", "right", "front", "left")
"""In the order of the sweep: clockwise, seen from above, operator at the front."""

TermKind = Literal["station", "sign", "point", "unit", "command", "shim", "place"]


@dataclass(frozen=True, slots=True)
class Term:
    """One row: the meaning's name, the ways to say it, its keypad key, a line of help.

    ``says[0]`` is the form that help and prompts use. ``key`` is empty where the keypad
    has another way; a key of two characters is pressed one after the other. ``typed``: further
    words that are taken when they are typed; they are not listened for, since the ears tell them
    from others less surely (``python -m tests.benchmarks.hearing_wishes``).
    """

    name: str
    kind: TermKind
    says: tuple[str, ...]
    key: str = ""
    help: str = ""
    typed: tuple[str, ...] = ()


TABLE: tuple[Term, ...] = (
    Term("back", "station", ("back", "rear"), help="the side away from you"),
    Term("right", "station", ("right",), help="your right hand"),
    Term("front", "station", ("front",), help="the side nearest you"),
    Term("left", "station", ("left",), help="your left hand"),
    Term("plus", "sign", ("plus",), "+", "plunger pushed in: table high there"),
    Term("minus", "sign", ("minus",), "-", "plunger let out: table low there"),
    Term("point", "point", ("point", "decimal"), ".", "before the decimals"),
    Term("thou", "unit", ("thou", "thousandths", "thousandth"), help="0.001 inch"),
    Term(
        "tenth",
        "unit",
        ("tenths", "tenth"),
        help="0.0001 inch if the dial shows it, or 0.1 mm: asked",
    ),
    Term("hundredth", "unit", ("hundredths", "hundredth"), help="0.01 mm"),
    Term("um", "unit", ("microns", "micron"), help="0.001 mm"),
    Term("in", "unit", ("inches", "inch"), help="for sizes, not readings"),
    Term("mm", "unit", ("millimeters", "millimeter"), help="for sizes, not readings"),
    Term("yes", "command", ("yes", "affirm"), "enter", "agree", ("ok", "okay", "yep")),
    Term("no", "command", ("no", "negative"), "-", "disagree", ("nope",)),
    Term("next", "command", ("next",), "/3", "leave it as it is and go on"),
    Term("done", "command", ("done",), "enter", "the step is done"),
    Term("locked", "command", ("locked",), "enter", "everything is tight"),
    Term("zeroed", "command", ("zeroed",), "enter", "the dial shows zero here"),
    Term("say again", "command", ("say again",), "*", "repeat the last prompt"),
    Term("correction", "command", ("correction",), "/7", "what follows replaces the last"),
    Term("disregard", "command", ("disregard",), "//", "take the last one back", ("undo",)),
    Term("stand by", "command", ("stand by",), "/0", "stop listening", ("wait",)),
    Term("go ahead", "command", ("go ahead",), "/0", "listen again"),
    Term("status", "command", ("status",), "/1", "where are we"),
    Term("help", "command", ("help",), "/2", "what can I say"),
    Term("skip", "command", ("skip",), "/4", "leave this out"),
    Term("short", "command", ("short",), "/.", "prompts in few words"),
    Term("long", "command", ("long",), "/.", "prompts in full"),
    Term("read back", "command", ("read back",), "/*", "hear this sweep's readings"),
    Term(
        "start over",
        "command",
        ("start over",),
        "",
        "begin this sweep from its zero",
        ("start the sweep over",),
    ),
    Term("how far off", "command", ("how far off",), "", "the last result"),
    Term("which way", "command", ("which way",), "", "where the table is high"),
    Term("louder", "command", ("louder",), "/+", "a louder voice"),
    Term("softer", "command", ("softer",), "/-", "a softer voice"),
    Term("slower", "command", ("slower",), "", "a slower voice"),
    Term("faster", "command", ("faster",), "", "a faster voice"),
    Term("quiet", "command", ("quiet",), "", "tones and screen only"),
    Term("talk", "command", ("talk",), "", "the voice again"),
    Term("settle", "command", ("settle",), "/5", "measure surface, relocking and lock pull"),
    Term("stop", "command", ("stop",), "/8", "save and leave; go on another day"),
    Term("finish", "command", ("finish",), "/9", "close the job as it stands"),
    Term("shim", "shim", ("shim",), "", "what shim is in: shim three above"),
    Term("above", "place", ("above",), "", "above the tilt bolt"),
    Term("below", "place", ("below",), "", "below the tilt bolt"),
)

COMMANDS: tuple[str, ...] = tuple(term.name for term in TABLE if term.kind == "command")
"""Every command, by name, in the table's order."""

BY_NAME: dict[str, Term] = {term.name: term for term in TABLE}

BY_PHRASE: dict[tuple[TermKind, str], Term] = {
    (term.kind, phrase): term for term in TABLE for phrase in term.says
}


def phrases_of(kind: TermKind) -> dict[str, str]:
    """Every way to say or type a term of this kind, mapped to the term's name."""
    terms = (term for term in TABLE if term.kind == kind)
    return {phrase: term.name for term in terms for phrase in (*term.says, *term.typed)}


PRONUNCIATIONS: dict[str, tuple[str, ...]] = {
    # ARPABET without stress, for words whose shop pronunciation a general dictionary lacks.
    "zeroed": ("Z IH R OW D", "Z IY R OW D"),
    "affirm": ("AH F ER M", "AE F ER M"),
    # As in southern England; CMU's dictionary is American throughout.
    "half": ("HH AA F",),
    "thou": ("TH AW", "DH AW"),
    "microns": ("M AY K R AA N Z",),
    "micron": ("M AY K R AA N",),
}
"""Pronunciations that the recogniser must know beside those of its own dictionary."""

WRITTEN: dict[str, tuple[str, ...]] = {
    # Words of the same sound, and words that a general recogniser has never seen.
    "four": ("for",),
    "two": ("to", "too"),
    "one": ("won",),
    "eight": ("ate",),
    "right": ("write",),
    "no": ("know",),
    "thou": ("though", "thow"),
    "thousandths": ("thousands", "thousand"),
    "tenths": ("tents",),
    "affirm": ("a firm",),
    "zeroed": ("zero'd", "zero ed"),
    "shim": ("shin",),
}
"""What a recogniser of everyday English may write for a word of ours, beside the word itself."""

TERM_OF_KEY: dict[str, tuple[str, ...]] = {
    key: tuple(term.name for term in TABLE if term.key == key and term.kind == "command")
    for key in sorted({term.key for term in TABLE if term.key})
}
"""The commands that a key or a pair of keys stands for; the phase tells which is meant."""
