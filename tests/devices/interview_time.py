"""How long it takes to make a new machine by the interview, as a table. Run as a module.

A person hears each prompt to its end, in the real voice, and answers after four seconds more.
Typing at `machine new` is counted with eight seconds for each line, since it must be read.
"""

import io
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from assistant.bench.which_machine import starting_points
from assistant.commands.machine import machine_new
from assistant.devices.text.lines import event_of
from assistant.devices.voice.synthesis import Voice
from assistant.dialogue.machine import SHIMMED
from assistant.dialogue.messages import Effect, MachineChosen, Say
from assistant.dialogue.step import introduce as begin
from assistant.dialogue.step import step
from assistant.records.machines.presets import LAYOUTS

THINKING_S = 4.0
TYPING_S = 8.0
LIMIT_S = 120.0

FIGURES = {
    "inch": ("yes", "yes", "yes", "25", "9 inches", "3"),
    "metric": ("yes", "no", "yes", "40", "240", "5"),
}
"""A dial?, in inches?, both ways?, its range, the sweep, the tolerance: none as proposed."""


@dataclass(frozen=True, slots=True)
class Session:
    """One interview: what was answered, what was heard."""

    name: str
    answers: tuple[str, ...]
    prompts: tuple[str, ...]
    made: str

    def seconds(self, voice: Voice) -> float:
        """The prompts in this voice, and a pause for every answer."""
        spoken = 0.0
        for text in self.prompts:
            samples, rate = voice.synthesise(text)
            spoken += len(samples) / rate
        return spoken + THINKING_S * len(self.answers)


def sessions() -> list[Session]:
    """Every kind of machine, with figures of its own; and one where all is agreed to."""
    told = [_play("first kind, all agreed to", ("yes",) * 7)]
    for place, layout in enumerate(LAYOUTS):
        for units, figures in FIGURES.items():
            # What is set by a dial alone is not asked how it is measured.
            ways = figures if layout.kind in SHIMMED else figures[1:]
            answers = (*["no"] * place, "yes", *ways)
            told.append(_play(f"{layout.name}, {units}", answers))
    return told


def _play(name: str, answers: tuple[str, ...]) -> Session:
    state, effects = begin((), starting_points())
    prompts = [*_said(effects)]
    for answer in answers:
        event = event_of(answer, "2026-01-05T09:00:00.000Z", state.turn, state.profile.scale)
        state, effects = step(state, event)
        prompts += _said(effects)
    chosen = [effect for effect in effects if isinstance(effect, MachineChosen)]
    assert chosen, f"{name}: not finished after {len(answers)} answers"
    return Session(name, answers, tuple(prompts), chosen[0].name)


def _said(effects: tuple[Effect, ...]) -> list[str]:
    return [effect.text for effect in effects if isinstance(effect, Say)]


def typed_lines() -> int:
    """How many lines `machine new` asks for."""
    answers = io.StringIO("1\nmy drill\ninch\n9 in\n3 thou\n25\n3 in\n" + "\n" * 20)
    out = io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        machine_new(Path(folder), None, asked=answers, out=out)
    return answers.getvalue()[: answers.tell()].count("\n")


def main() -> int:
    """Print the table; 1 when an interview takes too long."""
    voice = Voice()
    out = sys.stdout
    out.write(f"{'a new machine by voice':<44}answers  seconds\n")
    longest = 0.0
    for session in sessions():
        took = session.seconds(voice)
        longest = max(longest, took)
        out.write(f"{session.name:<44}{len(session.answers):7}{took:9.0f}\n")
    lines = typed_lines()
    out.write(f"{'typed, machine new':<44}{lines:7}{lines * TYPING_S:9.0f}\n")
    longest = max(longest, lines * TYPING_S)
    out.write(f"longest {longest:.0f} s, limit {LIMIT_S:.0f} s\n")
    return 0 if longest < LIMIT_S else 1


if __name__ == "__main__":
    sys.exit(main())
