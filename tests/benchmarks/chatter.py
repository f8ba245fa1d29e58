"""Talk near the bench, and calls that are hardly understood: what the program answers to each.

    python -m tests.benchmarks.chatter [--phases PHASE ...] [--show]

Synthetic voices that no fit has seen talk (40 phrases), then people read prose (Debian's
pocketsphinx-testdata), in several phases of a job. All goes through the real endpointer, ears,
judge, dialogue and brake; while a prompt is spoken the ears are deaf, as in the job. The same
voices then mumble 40 calls: low, with their beginnings cut off, in a fan's noise.
"""

import argparse
import random
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import soundfile

from assistant.bench.own_voice import Brake
from assistant.devices.ears.engines import ENGINES, chosen
from assistant.devices.ears.hearing import Ears, Recogniser, Utterance, heard_event
from assistant.devices.ears.verify import verify
from assistant.devices.ears.voice_activity import CHUNK
from assistant.devices.sound.files import RATE, Samples
from assistant.dialogue import wording
from assistant.dialogue.messages import Tone
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import listen
from assistant.simulation.noise import active_level_db, noise, to_int16
from grammar.scale import Scale
from tests.benchmarks.hearing_script import SCALES, TALK, Line, script
from tests.benchmarks.hearing_voices import TEST, recorded
from tests.dialogue.typed import TypedJob
from tests.ears.sounds import TESTDATA

PHASES: tuple[Phase, ...] = (
    Safety.UNPLUGGED, Lock.LOCK, Sweeping.ZERO, Sweeping.SWEEP, Bolt.LOOSEN, Close.DECIDE,
)  # fmt: skip
PHRASES = 40
BETWEEN_S = 1.0
A_CHARACTER_S = 0.065
"""About how long a character of a prompt takes to be spoken."""

MUMBLED_DB = (-52.0, -44.0)
"""Level of a mumbled call, from full scale."""

CUT_S = (0.08, 0.2)
"""What is missing of its beginning."""

FAN_DB = 12.0
"""How far the fan is below it."""


@dataclass
class Answered:
    """What was answered to the pieces that were heard."""

    pieces: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    said: Counter[str] = field(default_factory=Counter)
    silent: int = 0
    heard: list[str] = field(default_factory=list)


def talk(seed: int) -> Iterator[Samples]:
    """Phrases by the test voices in turn, each another one."""
    chance = random.Random(seed)
    for number, words in enumerate(chance.sample(TALK, PHRASES)):
        voice = TEST[number % len(TEST)]
        spoken = recorded(Line("talk", Scale(), (words,)), voice, f"{seed} {number}")
        yield to_int16(spoken.sound)


def prose() -> Iterator[Samples]:
    """People who read aloud."""
    for path in sorted((TESTDATA / "librivox").glob("*.wav")):
        samples, rate = soundfile.read(path, dtype="int16")
        assert rate == RATE
        yield np.asarray(samples, np.int16)


def mumbled(seed: int, phase: Phase) -> Iterator[Samples]:
    """Calls that fit this phase, hardly to be understood."""
    chance = random.Random(seed)
    for number in range(PHRASES):
        voice = TEST[number % len(TEST)]
        line = _fitting(phase, chance)
        spoken = recorded(line, voice, f"{seed} {number}")
        first = round((spoken.start_s + chance.uniform(*CUT_S)) * RATE)
        sound = spoken.sound[first:] * 10 ** (
            (chance.uniform(*MUMBLED_DB) - active_level_db(spoken.sound)) / 20
        )
        around = np.zeros(RATE // 2)
        sound = np.concatenate([around, sound, around])
        fan = noise("fan", len(sound), np.random.default_rng(number))
        yield to_int16(sound + fan * 10 ** ((active_level_db(sound) - FAN_DB) / 20))


def _fitting(phase: Phase, chance: random.Random) -> Line:
    if phase is Sweeping.SWEEP:
        calls = (one for n in range(99) for one in script(chance.randrange(10**6), {"call": 1}))
        return next(one for one in calls if one.scale == SCALES[0])
    words = {
        Safety.UNPLUGGED: ("yes", "no", "affirm"),
        Lock.LOCK: ("locked", "lock"),
        Sweeping.ZERO: ("zeroed",),
        Bolt.LOOSEN: ("done", "skip"),
        Close.DECIDE: ("yes", "no", "finish"),
    }[phase]
    return Line("command", Scale(), (chance.choice(words),))


def play(
    recogniser: Recogniser, phase: Phase, sounds: Iterator[Samples], *, alone: bool
) -> Answered:
    """Let it hear these; ``alone``: each in a job of its own, answered or not by itself."""
    found = Answered()
    job, brake = TypedJob.at(phase), Brake()
    ears = Ears(recogniser, verify)
    for sound in sounds:
        if alone:
            job, brake = TypedJob.at(phase), Brake()
        before = found.pieces, found.silent
        _hear(ears, job, brake, phase, sound, found)
        if alone and found.pieces == before[0]:
            found.silent += 1
            found.heard.append("(nothing was heard)")
    return found


def _hear(
    ears: Ears, job: TypedJob, brake: Brake, phase: Phase, sound: Samples, found: Answered
) -> None:
    _arm(ears, job)
    padded = np.concatenate([sound, np.zeros(round(BETWEEN_S * RATE), np.int16)])
    deaf_until = 0
    for begin in range(0, len(padded) - CHUNK, CHUNK):
        if begin < deaf_until:
            continue
        for utterance in ears.feed(padded[begin : begin + CHUNK]):
            said = _answer(job, brake, utterance, found)
            deaf_until = begin + round(A_CHARACTER_S * len(said) * RATE)
            if job.state.phase is not phase:
                job.state = TypedJob.at(phase).state
            _arm(ears, job)


def _arm(ears: Ears, job: TypedJob) -> None:
    ears.arm(listen(job.state).offer)
    ears.discard()


def _answer(job: TypedJob, brake: Brake, utterance: Utterance, found: Answered) -> str:
    event = heard_event(utterance, "2031-03-04T12:00:00.000Z", job.state.turn)
    brake.passes(event)
    open_before = job.state.pending
    job.post(event)
    said = "" if brake.on() else job.said
    found.pieces += 1
    found.outcomes[event.outcome] += 1
    tone = any(isinstance(effect, Tone) for effect in job.effects)
    kind = "nothing"
    if said:
        kind = {wording.MISSED: "say again", wording.MISSED_TWICE: "keypad"}.get(said, "other")
        if job.state.pending not in (None, open_before):
            kind = "question"
    elif tone:
        kind = "tone"
    if event.outcome == "accept":
        kind = "accepted"
    found.said[kind] += 1
    found.silent += kind == "nothing"
    found.heard.append(
        f"{event.outcome:7} ours {utterance.decoded.ours:6.3f} {utterance.words!r}: {kind} {said!r}"
    )
    return said


KINDS = ("nothing", "tone", "say again", "keypad", "question", "accepted", "other")


def main(argv: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="chatter", description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument("--engine", choices=ENGINES, default="auto")
    names = [str(phase) for phase in PHASES]
    parser.add_argument("--phases", nargs="+", choices=names, default=names, metavar="PHASE")
    parser.add_argument("--show", action="store_true", help="every piece that was heard")
    given = parser.parse_args(argv)
    recogniser = chosen(given.engine).recogniser
    heads = "".join(f"{kind:>11}" for kind in KINDS)
    sys.stdout.write(f"{'phase':12} {'sound':10} {'pieces':>6}{heads}\n")
    for phase in (phase for phase in PHASES if str(phase) in given.phases):
        for name, sounds, alone in (
            ("talk", talk(given.seed), False),
            ("prose", prose(), False),
            ("mumbled", mumbled(given.seed, phase), True),
        ):
            found = play(recogniser, phase, sounds, alone=alone)
            row = "".join(f"{found.said[kind]:11}" for kind in KINDS)
            sys.stdout.write(f"{phase:12} {name:10} {found.pieces:6}{row}\n")
            if given.show:
                sys.stdout.writelines(f"    {line}\n" for line in found.heard)
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
