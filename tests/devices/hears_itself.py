"""A job whose speaker sounds at its microphone: ``python -m tests.devices.hears_itself``.

Speaker, half duplex, microphone, endpointer, ears, dialogue and voice are the real ones; between
the two ends lies a delay in place of a sound card and a room. Nobody says anything: whatever is
heard is the program itself. The clock moves with the sound.
"""

import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from assistant.bench.own_voice import Brake, OwnVoice
from assistant.devices.ears.engines import recogniser
from assistant.devices.ears.hearing import Ears, Recogniser, heard_event
from assistant.devices.ears.verify import verify
from assistant.devices.sound.echo_watch import EchoWatch
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.microphone import RATE, Microphone
from assistant.devices.sound.speaker import Speaker
from assistant.devices.voice.synthesis import Voice
from assistant.devices.voice.tones import tone
from assistant.dialogue.messages import Say, Tone
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.questions import listen
from tests.devices.test_sound_delay import Loop, open_both
from tests.dialogue.typed import TypedJob

DELAYS_MS = (0, 500, 1_200)
PATIENCE_S = 60.0
"""How long a prompt may take to be made: nothing here is timed."""

AFTER_S = 3.0
"""How long is listened after a prompt; a voice arrives no later than that."""

TYPED: dict[Phase, tuple[str, ...]] = {
    Sweeping.SWEEP: ("plus six", "say again", "stop", "no", "help"),
    Sweeping.ZERO: ("zeroed", "minus four", "stop", "no", "say again"),
    Safety.UNPLUGGED: ("stop", "no", "yes", "help"),
}
"""What a person types in the meantime, each answered in words that could be taken for an answer:
"Stop here?", "Say yes, no, ...". The first prompt of a job may be as short as "Right?"."""


@dataclass
class Happened:
    """What came of the program's own voice. ``prompts``: those that nobody asked for."""

    prompts: list[str] = field(default_factory=list)
    pieces: int = 0
    known: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    delay_s: float | None = None
    as_typed: bool = True


class Bench:
    """The wiring of the live job, in one thread and at the pace of the samples."""

    def __init__(
        self, engine: Recogniser, voice: Voice, loop: Loop, speaker: Speaker,
        microphone: Microphone, duplex: HalfDuplex, job: TypedJob, guarded: bool,
    ) -> None:  # fmt: skip
        self.happened = Happened()
        self._voice, self._loop = voice, loop
        self._speaker, self._microphone, self._duplex = speaker, microphone, duplex
        self._own_voice, self._brake = OwnVoice(duplex), Brake()
        self._ears = Ears(engine, verify)
        self._job, self._guarded = job, guarded
        self._arm()

    def types(self, line: str) -> None:
        """A person types; what is said then is listened to until it is over."""
        self._job.say(line)
        self._perform()
        quiet_at = None
        while quiet_at is None or self._loop.clock.now < quiet_at:
            self._block()
            speaking = self._duplex.speaking() or self._speaker.playing()
            if speaking:
                quiet_at = None
            elif quiet_at is None:
                quiet_at = self._loop.clock.now + AFTER_S

    def _block(self) -> None:
        self._loop.step()
        block = self._microphone.read(0.0)
        if block is None:
            return
        if block.gap:
            self._ears.discard()
        for utterance in self._ears.feed(block.samples):
            self.happened.pieces += 1
            if self._guarded and self._own_voice.echoes(utterance, self._loop.clock()):
                self.happened.known += 1
                continue
            event = heard_event(utterance, "", self._job.state.turn)
            self.happened.outcomes[event.outcome] += 1
            self._brake.passes(event)
            self._job.post(event)
            self.happened.prompts += [self._job.said] if self._job.said else []
            self._perform()

    def _perform(self) -> None:
        for effect in self._job.effects:
            if isinstance(effect, Tone):
                self._speaker.play(tone(effect.name, RATE), RATE)
            elif isinstance(effect, Say) and not self._brake.on():
                self._own_voice.says(effect.text)
                self._speaker.play(*self._voice.synthesise(effect.text))
        if self._job.listening is not None:
            self._arm()

    def _arm(self) -> None:
        self._ears.arm(listen(self._job.state).offer)
        self._ears.discard()


def hears_itself(
    engine: Recogniser, voice: Voice, delay_ms: int, phase: Phase, *, guarded: bool = True
) -> Happened:
    """What comes of a job whose voice comes back so late.

    ``guarded``: it looks for its voice; else it is taken to arrive at once, and answered.
    """
    loop = Loop(delay_ms / 1000, (RATE, 1))
    duplex = HalfDuplex(echo=EchoWatch() if guarded else None)
    job, typed = TypedJob.at(phase), TypedJob.at(phase)
    with open_both(loop, duplex) as (speaker, microphone):
        bench = Bench(engine, voice, loop, speaker, microphone, duplex, job, guarded)
        for line in TYPED[phase]:
            bench.types(line)
            typed.say(line)
    happened = bench.happened
    happened.delay_s = duplex.delay_s
    happened.as_typed = (job.state.phase, job.state.readings, job.state.stopped) == (
        typed.state.phase, typed.state.readings, typed.state.stopped,
    )  # fmt: skip
    return happened


HEADING = (
    "  delay  phase        found  pieces  its own  talk  reject  ask  accept  prompts\n"
)  # fmt: skip


def main(argv: Sequence[str] | None = None) -> int:
    """Print the table; 1 if it answered itself."""
    delays = [int(each) for each in argv or sys.argv[1:]] or DELAYS_MS
    engine, bad = recogniser("auto"), 0
    sys.stdout.write(HEADING)
    voice = Voice(limit_s=PATIENCE_S)
    for delay_ms in delays:
        for phase in TYPED:
            found = hears_itself(engine, voice, delay_ms, phase)
            late = "-" if found.delay_s is None else f"{1000 * found.delay_s:.0f} ms"
            counts = [found.outcomes[name] for name in ("talk", "reject", "ask", "accept")]
            sys.stdout.write(
                f"{delay_ms:4} ms  {phase:8} {late:>9}  {found.pieces:6}  {found.known:7}"
                f"  {counts[0]:4}  {counts[1]:6}  {counts[2]:3}  {counts[3]:6}"
                f"  {len(found.prompts):7}\n"
            )
            sys.stdout.writelines(f"    {text}\n" for text in found.prompts)
            bad += bool(found.prompts) or not found.as_typed
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
