"""What it gains to learn a voice: the same calls as a stranger's, and as one known by and by.

The calls of each voice follow each other in the order of the recordings. Folders name the
voice in their manifest; where the recordings of one voice differ in room and microphone,
less is gained than in a job.
"""

from collections.abc import Iterator, Sequence
from itertools import groupby

from assistant.commands.hear import Expect, offered
from assistant.devices.pocketsphinx_ears import PocketSphinx
from assistant.simulation.noise import Signal
from tests.benchmarks.hearing_clips import Clip, in_noise
from tests.benchmarks.hearing_contestants import WholeEars
from tests.benchmarks.hearing_tables import NAME_WIDTH, Condition
from tests.benchmarks.hearing_tally import Tally

FIRST = 10
"""Calls by which a voice is not counted as known."""

LEGEND = f"""\
calls that are not the first {FIRST} of their voice; right, wrong and asked as above, in percent:
as if each were a stranger's, and with what the calls before it have told of the voice
"""


def learning_lines(
    clips: Sequence[Clip], conditions: Sequence[Condition], talkers: Sequence[Signal],
    expect: Expect,
) -> Iterator[str]:  # fmt: skip
    """The table, line by line as it is measured; only PocketSphinx's ears learn a voice."""
    voices = {
        voice: list(theirs)
        for voice, theirs in groupby(
            sorted((clip for clip in clips if not clip.is_talk), key=lambda clip: clip.voice),
            key=lambda clip: clip.voice,
        )
    }
    if not any(len(theirs) > FIRST for theirs in voices.values()):
        yield f"no voice has more than {FIRST} calls here: use a smaller --every\n"
        return
    stranger = WholeEars(PocketSphinx(), "stranger")
    known = WholeEars(PocketSphinx(), "known", learns=True)
    yield (
        f"{'':{NAME_WIDTH}} {'calls':>6} {'right':>13} {'wrong':>13} {'asked':>13}\n"
        f"{'':{NAME_WIDTH}} {'':>6}{' stranger known' * 3}\n"
    )
    for condition in conditions:
        tallies = Tally(), Tally()
        for theirs in voices.values():
            known.forget()
            for number, clip in enumerate(theirs):
                offer = offered(expect, clip.scale)
                if not offer.allows(clip.meaning):
                    continue
                samples = in_noise(clip.sound, condition.kind, condition.ratio_db, number, talkers)
                for ears, tally in zip((stranger, known), tallies, strict=True):
                    take = ears.hear(samples, offer)
                    if number >= FIRST:
                        tally.add(clip, take)
        yield _line(condition, *tallies)


def _line(condition: Condition, stranger: Tally, known: Tally) -> str:
    cells = [f"{condition!s:{NAME_WIDTH}} {stranger.calls:6d}"]
    for count, of in (("right", "calls"), ("wrong", "calls"), ("asked", "signed")):
        for tally in (stranger, known):
            share = 100 * getattr(tally, count) / max(1, getattr(tally, of))
            cells.append(f"{share:7.1f}")
    return "".join(cells) + "\n"
