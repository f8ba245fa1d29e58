"""What the manual says, part by part."""

from assistant.arguments import CAUTIONS
from assistant.manual import tables
from assistant.records.report.blocks import Document, Grid, Paragraph, Part, Points, Title

READINGS_FILE = """\
unit = "thou"
sweep_diameter = "12 in"
tolerance = "3 thou"
readings = { back = "0", right = "-2.5", front = "4", left = "6.5" }
closing = "0"

[shim]
stock = ["2", "3", "5", "8"]
"""
"""A readings file for ``solve`` (invented)."""

Topic = tuple[str, Part]
"""A word to ask for a part by, and the part."""


def parts() -> tuple[Topic, ...]:
    """Every part with the word to ask for it by, in the manual's order."""
    return (
        ("words", _words()),
        ("wishes", _wishes()),
        ("again", _again()),
        ("keys", _keys()),
        ("signs", _signs()),
        ("ways", _ways()),
        ("checks", _checks()),
        ("paper", _paper()),
        ("solve", _solve()),
        ("commands", _commands()),
        ("trouble", Part("When something is wrong", (tables.trouble(),))),
        ("limits", _limits()),
    )


def manual(topic: str | None = None) -> Document:
    """The whole manual, or one part of it."""
    told = tuple(part for name, part in parts() if topic in (None, name))
    title = Title("sweepsay", f"The manual. {CAUTIONS}")
    return Document("sweepsay manual", (title, *told), "Printed by 'sweepsay manual'.")


def _words() -> Part:
    return Part(
        "What can be said",
        (
            Paragraph(
                "Only what does something at that moment is listened for. The screen shows it, "
                '"help" tells it.'
            ),
            tables.words(),
            Paragraph(
                'A reading: a station if you like, plus or minus, a number ("front plus six"). '
                'Numbers: "twelve", "twenty three", digit by digit ("one two"), "six and a '
                'half", "half", "a quarter", "three quarters", "point five", "decimal two '
                'five". Say zero, not "oh".'
            ),
            Paragraph(
                "Every accepted reading is read back. Silence is agreement; "
                '"correction front minus four" replaces, "disregard" takes back. A number '
                "without a sign is asked. When the four readings cannot belong to a plane, it "
                "asks again for the one that was most likely mis-heard or mis-read."
            ),
            Paragraph(
                "At a metric job a bare number counts hundredths of a millimetre, and "
                '"point zero four" is 0.04 mm, of a shim as well; "shim one point five" may be '
                "either and is asked."
            ),
        ),
    )


def _wishes() -> Part:
    return Part(
        "Wishes at any time",
        (
            Paragraph(
                "These change nothing that was measured, and the question stays open. All can be "
                "typed at any time; by voice only those that the screen offers at that moment."
            ),
            Points((
                '"Read back" tells the readings of this sweep, "what was the right" one of them, '
                '"how far off" the last result, "which way" where the table is high.',
                '"Take back two" takes the last two readings back, "start over" begins this sweep '
                "from its zero, once you agree.",
                '"Tolerance three" holds from then on: a result that stands is judged by it at '
                'once. "Sweep nine inches" is another circle, until something is read. By voice '
                'both are heard at the set-up.',
                '"Note" and a few words are kept with the job and printed in its report.',
                '"Louder", "softer", "slower", "faster" change the voice, "quiet" leaves tones and '
                'screen until "talk". "Short" is for whoever knows the job: half the words, all '
                'cautions; "long" goes back. All of that is kept for the next job.',
                '"Help" tells how what is asked is done, and what can be said.',
            )),
            tables.typed_words(),
            Paragraph(
                "Such everyday words are typed, or named at a typed key (key: ok). They are not "
                "listened for."
            ),
        ),
    )  # fmt: skip


def _again() -> Part:
    return Part(
        "The next job at the same machine",
        (
            Paragraph(
                "It begins with how the last one left the machine: the day, square within which "
                "tolerance or how far out, and when it was last square. A shim that was in is "
                'asked about: "yes" if it still is, "no" if it is out, or which one is '
                '("shim three above"); "skip" starts as with a new machine.'
            ),
            Paragraph(
                "What a shim did last time is built on, so that no trial shim is needed. It counts "
                "for less from one day to another, and less with every year; after a few years a "
                "trial is made again. Whatever the next sweep shows goes before it."
            ),
            Paragraph(
                "Machines are told apart by their names: give two alike machines different ones."
            ),
        ),
    )


def _keys() -> Part:
    return Part(
        "The numeric keypad",
        (
            Paragraph(
                "Any numeric pad, Num Lock on or off: in the terminal's window, or (Linux, extra "
                "'keypad') read directly, so that no window needs to be in front. / begins a pair "
                "of keys. Each key is answered by a tone or the voice, and the screen shows for a "
                "moment what it made. A second Enter within a moment is taken for a slip, and a "
                "key that is held down counts once."
            ),
            tables.pad(),
            tables.keys(),
            Paragraph(
                "The talk key is for the worst noise: press it (or the space bar of the "
                "terminal), call, press it again. The space bar can be held down instead. What "
                "was said between is taken as one call, six seconds at most."
            ),
        ),
    )


def _signs() -> Part:
    return Part(
        "Signs",
        (
            Points((
                "Seen from above, operator at the front.",
                "Plunger pushed in is plus: the table is high there.",
                "Front high: the shim goes above the tilt bolt (table hung on a vertical face in "
                "front of its arm). Front low: below it.",
                "Differences are judged, never a return to the old zero.",
            )),
        ),
    )  # fmt: skip


def _ways() -> Part:
    return Part(
        "Ways of measuring",
        (
            Paragraph("Set in the machine's profile: sweepsay machine edit NAME --set KEY=VALUE."),
            tables.ways(),
            Points((
                "What stands on plain feet (a vise whose bed is swept, the box table of a radial "
                "drill) has no tilt bolt: its machine is of the kind 'packed', and the shims go "
                "under its low side, one axis after the other.",
                "A mill's head (kind 'head') is set by nod and tilt, without shims: bolts snug, "
                "move it until the dial shows the target that is told, tighten, call it once "
                "more. What each move did, and what tightening pulls, is learnt and allowed for.",
                '"Settle", when it asks for the lock, measures how rough the surface is, how well '
                "the lock repeats and how far it pulls. Once or twice in a machine's life; it is "
                "kept with the machine.",
            )),
        ),
    )  # fmt: skip


def _checks() -> Part:
    return Part(
        "Checks beside the sweep",
        (
            Points((
                '"No" at the set-up leads on: another sweep diameter, another tolerance, then '
                '"Spindle checked?", where "no" makes the checks that a sweep takes for granted. '
                '"Skip" leaves one out.',
                "Runout near the chuck and further down the bar tells a bar off centre from one "
                "that leans; neither enters a sweep, since bar and dial turn as one body. Side "
                "shake beyond the tolerance sends you to the bearings first. End play counts as "
                "far as the spindle does not drop back by itself. Travel of the quill against a "
                "square on the table is what holes follow, and no sweep sees it.",
                '"No" at the end ("Finish?") takes up what is still to be corrected. When nothing '
                "is, it offers another height or swing of the table, compared with the first, and "
                "then the table's form: four more readings between the four, and the gap under a "
                "straight edge. The form is also offered when the readings will not belong to a "
                "plane.",
            )),
        ),
    )  # fmt: skip


def _paper() -> Part:
    return Part(
        "What is left on paper",
        (
            Points((
                "At the end of a job its report is written beside the record, as HTML. 'job "
                "report' writes it again as HTML and PDF: as found and as left, what was done and "
                "what is left to do, sweep by sweep, what the shim did, how sure it is and why, "
                "every reading. Times are those of your clock; the record keeps UTC.",
                "'job sheet' makes one page to hang at the machine; its code holds the last "
                "readings as text that 'solve' takes, so that the sheet can be worked out again "
                "where the record is lost. 'job trend' shows a machine over its jobs.",
                "Everything is in one file, jobs.db in your data folder ('sweepsay check' shows "
                "where). Copy it with 'sweepsay job backup FILE', also in the middle of a job: "
                "the newest readings are in a second file beside it, which a plain copy leaves "
                "behind. --db FILE takes up a backup with every command. Nothing that is wrong "
                "with the record keeps the program from starting: what can be read is taken over, "
                "the damaged file is kept under another name, and one line says so.",
            )),
        ),
    )  # fmt: skip


def _solve() -> Part:
    lines = tuple((line,) for line in READINGS_FILE.splitlines())
    return Part(
        "Readings from a file",
        (
            Paragraph("'sweepsay solve FILE' takes readings as TOML or JSON:"),
            Grid(("",), lines, tables.NO_NUMBERS),
            Points((
                'By leaves that go and do not: method = "gap" and right = { value = "12", no_go = '
                '"13" }.',
                'By a square: method = "square", square_height = "6 in", positive where the gap '
                "is open at the bottom.",
                'A dial that is not the usual one: indicator = { face = "continuous", per_turn = '
                '"100", higher = "minus", lever = "20" }.',
            )),
        ),
    )  # fmt: skip


def _commands() -> Part:
    return Part(
        "All commands",
        (
            tables.commands(),
            Paragraph(
                "Each has --help with an example. Completion: eval \"$(sweepsay "
                '--print-completion bash)" in your shell\'s start file. Exit status: 0 done, 1 it '
                "could not be done (the message says what to do), 2 wrong usage. --json prints "
                "JSON on standard output and nothing else. NO_COLOR and TERM are obeyed by the "
                "screen, VISUAL and EDITOR by 'machine edit'."
            ),
        ),
    )  # fmt: skip


def _limits() -> Part:
    return Part(
        "What it knows and does not know",
        (
            Points((
                "A tolerance is yours to set; none is built in as what a standard says.",
                "Four stations see a tilt, and whether they miss a plane. They cannot see a "
                "dish or a twist, and take three lobes for a tilt.",
                "A shim's effect is learnt from the first trial; the first guess is common "
                "practice, no source.",
                "Nothing leaves the machine. No audio is kept, unless 'run --keep-audio' asks for "
                "it: then the utterances that were taken or asked about, beside the record, until "
                "'job audio delete'.",
                "What was learnt of your voice (some fifty numbers, no sound) is kept for the "
                "next job; 'run --forget' drops it.",
            )),
        ),
    )  # fmt: skip
