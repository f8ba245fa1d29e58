"""Where every command of every phase leads, for the golden list; run as a module, it writes it.

Each pair is tried at a job that came straight to the phase, so that the list shows what rows,
procedures and job do together. It is read when it changes, as the list of prompts is.
"""

from pathlib import Path

from assistant.dialogue.job import JOB
from assistant.dialogue.messages import Closed, MachineChosen
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.state import AskCommand
from assistant.dialogue.wording import FINISH_LATER
from grammar.meaning import Command
from tests.dialogue.typed import TypedJob

GOLDEN = Path(__file__).parent / "transitions.txt"

OPEN: tuple[Phase, ...] = tuple(phase for phase in JOB.table if phase is not Close.CLOSED)
"""Every phase of a job that still listens."""


def tried(phase: Phase, name: str) -> TypedJob:
    """A job at this phase that was told this command."""
    job = TypedJob.at(phase)
    job.hear(name, Command(name))
    return job


def outcome(job: TypedJob) -> str:
    """Where a job is and how, in few words."""
    if any(told in job.said for told in ("Not now", FINISH_LATER, "when it is.")):
        return "not now"
    if any(isinstance(effect, MachineChosen) for effect in job.effects):
        return "the machine is chosen"
    if any(isinstance(effect, Closed) for effect in job.effects):
        return f"{job.state.phase}, the end"
    asked = " (asked first)" if isinstance(job.state.pending, AskCommand) else ""
    return f"{job.state.phase}{asked}"


def golden_text() -> str:
    """The list as it is kept."""
    return "".join(
        f"{phase}: {name} -> {outcome(tried(phase, name))}\n"
        for phase in OPEN
        for name in JOB.table[phase].on
    )


if __name__ == "__main__":
    GOLDEN.write_text(golden_text(), encoding="utf-8")
