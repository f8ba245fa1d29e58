"""What voices are made to say for the benchmark: calls, numbers off the dial, commands, talk.

Drawn with a seed; every sentence is parsed, so that what is called a call is one.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from grammar.meaning import Command, Reading
from grammar.numerals import number_words
from grammar.parse import parse
from grammar.scale import Scale
from grammar.vocabulary import BY_NAME, COMMANDS

Class = Literal["call", "bare", "paused", "finer", "beyond", "command", "talk", "prose"]
OF_EACH: dict[Class, int] = {
    "call": 22, "bare": 6, "paused": 10, "finer": 8, "beyond": 8, "command": 16, "talk": 18,
    "prose": 1,
}  # fmt: skip
"""How many of each a voice says."""

SCALES = (
    Scale("thou", 50, Decimal("0.5")), Scale("thou", 30, Decimal("0.25")),
    Scale("thou", 15, Decimal("0.5")), Scale("mm", 40, Decimal("1")),
)  # fmt: skip
STATIONS = ("back", "right", "front", "left", "rear")

TALK = (
    # Words and numbers of a print shop, of a kitchen and of a telephone.
    "hand me the roller", "who took the scissors", "four four three, six one two", "nine thirty",
    "is it ready yet", "lock the door behind you", "go on without me", "that is fine by me",
    "two coffees please", "six of one", "no idea", "not really", "I left it at home",
    "right behind you", "step back a little", "in front of the window", "plus size",
    "it minds less than you think", "seven thousand of them", "half past ten", "zero chance",
    "done and dusted", "skip lunch then", "help yourself", "shins and elbows", "read it again",
    "yesterday", "know what I mean", "next door", "stop by tomorrow", "sixteen pages, both sides",
    "repeat customers", "the rear entrance", "blue ink on the left page", "status quo", "on", "up",
    "down", "go", "tree", "nest", "skit", "thanks", "hello", "eighty percent of the order",
    "correct", "affirmative action", "it went wrong", "point taken", "a quarter to nine",
    "decimal places", "fifty fifty", "thirty two folded sheets", "bring the other one",
    "we ran out of yellow", "mind the cable", "the clamp is loose", "measure it twice",
)  # fmt: skip

OTHER_TALK = (
    # Of a bus depot, a garden and a family, with words that begin or end as ours do.
    "when does the next bus leave", "lift that end", "lefty", "are you all right", "write it down",
    "a bright morning", "the front wheel is flat", "pack your bag", "back in a minute", "affront",
    "won", "two", "sicker", "fifty cents", "twelve roses", "ten to four", "a dozen and a half",
    "eighteen years old", "platform nine", "seven", "half", "a quarter of an hour", "pluses",
    "miners", "plus tax", "minor repairs", "bonus", "the point is", "pint", "decimal", "zeros",
    "nobody", "note that", "yes sir", "yeah", "yep", "nope", "no problem", "dunno", "dawn",
    "done it again", "locker", "looked", "unlocked", "hold on", "wait", "start the car", "shop",
    "stopped", "top shelf", "skipping rope", "ship it", "shin", "hell", "helper", "finished",
    "finish your soup", "talking", "quite", "long ago", "short cut", "louder please", "slow down",
    "fast asleep", "repeat after me", "say that", "who said so", "correct me if I am wrong",
    "status report", "stand up", "go away", "ahead of time", "in the rear mirror", "settled",
    "mm", "oh", "uh huh", "right then", "left over", "front row", "I am back", "thou shalt not",
    "a thousand thanks", "cheers", "sorry", "good morning", "water the tomatoes",
    "the kettle is on", "mow the lawn on Sunday", "forty litres of diesel", "sweep the floor",
    "turn it around", "what was that", "take it back", "do not lean on it", "it is eleven o'clock",
)  # fmt: skip
"""The same for fitting, so that nothing is learnt of the sentences that test."""

PROSE = (
    "The bakery opens before the street is awake. Flour is weighed, water is warmed, and the "
    "first trays go in while the radio talks to itself. By seven the queue reaches the corner. "
    "Somebody always asks for the rolls with seeds, and somebody else wants to know why there "
    "are only eight of them left. Nobody minds waiting, because it is warm near the ovens.",
    "When the ferry is late the whole island is late. The post arrives after lunch, the school "
    "begins without its teacher, and the three men at the harbour argue about the wind. One says "
    "it has turned to the front of the bay, another that it was behind us all morning. The third "
    "looks at his watch, shakes his head, and goes back to mending a net with a wooden needle.",
    "To bind a book by hand you fold the sheets, stack them, and pierce five holes along the "
    "fold. Wax the thread so that it does not slip. Go in at the middle, out at the next, and "
    "come back the way you came. Pull it tight but not too tight. If the paper tears, do not "
    "worry: turn the sheet over, start again, and nobody will see it once the cover is on.",
    "My grandmother kept bees on the roof of a tall house in the city. Every spring she counted "
    "the frames, twenty or thirty of them, and wrote the numbers on the door with chalk. She "
    "never wore gloves. She said that bees can tell a nervous hand from a calm one, and that the "
    "left hand is always the calmer of the two. We believed her, and were stung all the same.",
)


@dataclass(frozen=True, slots=True)
class Line:
    """A sentence: its class, at which dial, and the pieces that pauses part."""

    kind: Class
    scale: Scale
    pieces: tuple[str, ...]

    @property
    def said(self) -> str:
        """The whole sentence."""
        return " ".join(self.pieces)


def script(seed: int, of_each: dict[Class, int], *, talk: Sequence[str] = TALK) -> Iterator[Line]:
    """What one voice says; another seed, other sentences. ``talk``: what is not for us."""
    chance = random.Random(seed)
    talk = chance.sample(talk, len(talk))
    for kind, count in of_each.items():
        for number in range(count):
            scale = chance.choice(SCALES)
            match kind:
                case "command":
                    name = chance.choice(COMMANDS)
                    yield _checked(Line(kind, scale, (chance.choice(BY_NAME[name].says),)))
                case "talk":
                    yield Line(kind, scale, (talk[number % len(talk)],))
                case "prose":
                    yield Line(kind, scale, (PROSE[(seed + number) % len(PROSE)],))
                case _:
                    yield _checked(_called(kind, scale, chance))


def _called(kind: Class, scale: Scale, chance: random.Random) -> Line:
    value = _NUMBERS[kind](scale, chance)
    digitwise = value >= 10 and chance.random() < 0.25
    words = number_words(value, digitwise=digitwise and value == int(value))
    if chance.random() < 0.2 and value > 1:
        words += " thou" if scale.system == "thou" else " hundredths"
    station = chance.choice(STATIONS) if kind == "paused" or chance.random() < 0.6 else ""
    sign = "" if kind == "bare" else chance.choice(("plus", "minus"))
    if kind == "paused":
        # Before the sign, or between sign and number: where people look at the dial.
        parted = chance.random() < 0.75
        pieces = (station, f"{sign} {words}") if parted else (f"{station} {sign}", words)
        return Line(kind, scale, pieces)
    return Line(kind, scale, (" ".join(f"{station} {sign} {words}".split()),))


def _on_dial(scale: Scale, chance: random.Random) -> Decimal:
    if chance.random() < 0.65:
        return Decimal(chance.randint(1, scale.reach))
    return Decimal(chance.randint(1, int(scale.reach / scale.step))) * scale.step


def _finer(scale: Scale, chance: random.Random) -> Decimal:
    while True:
        part = Decimal(chance.randint(1, 99 if chance.random() < 0.2 else 9))
        value = chance.randint(0, scale.reach - 1) + part / (10 if part < 10 else 100)
        if value % scale.step:
            return value


def _beyond(scale: Scale, chance: random.Random) -> Decimal:
    return Decimal(chance.randint(scale.reach + 1, 99 if chance.random() < 0.85 else 130))


_NUMBERS: dict[Class, Callable[[Scale, random.Random], Decimal]] = {
    "call": _on_dial, "bare": _on_dial, "paused": _on_dial, "finer": _finer, "beyond": _beyond,
}  # fmt: skip


def _checked(line: Line) -> Line:
    meaning = parse(line.said, line.scale)
    wanted = Command if line.kind == "command" else Reading
    if not isinstance(meaning, wanted):
        raise ValueError(f"'{line.said}' is no {line.kind}: mend the script")
    return line
