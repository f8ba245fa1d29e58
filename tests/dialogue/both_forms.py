"""One job with one shim and one re-check in the long and in the short form, counted.

Run as a module it prints both, word by word.
"""

import re
import sys
from dataclasses import dataclass

from tests.dialogue.typed import FRONT_HIGH_SIX, LEVEL, READY, TypedJob

MOST_ANSWERS, MOST_WORDS = 15, 110
"""Goals of the short form."""

ANSWERS: dict[bool, tuple[str, ...]] = {
    False: (*READY, "zeroed", *FRONT_HIGH_SIX, "done", "done", "locked", "zeroed", *LEVEL,
            "yes", "done"),
    True: ("yes", "locked", "zeroed", *FRONT_HIGH_SIX, "done", "locked", "zeroed", *LEVEL, "done"),
}  # fmt: skip
"""The same hands and the same readings in either form."""


@dataclass(frozen=True, slots=True)
class Played:
    """A whole job: each answer with what was said after it; first what was asked before any."""

    job: TypedJob
    turns: tuple[tuple[str, str], ...]

    @property
    def answers(self) -> int:
        """What the person had to answer."""
        return len(self.turns) - 1

    @property
    def words(self) -> int:
        """What they had to listen to."""
        return sum(len(re.findall(r"[A-Za-z']+", said)) for _, said in self.turns)


def played(*, short: bool) -> Played:
    """The job in this form."""
    job = TypedJob.begin(short=short)
    turns = [("", job.said)]
    turns += [(answer, job.say(answer)) for answer in ANSWERS[short]]
    return Played(job, tuple(turns))


def main() -> None:
    """Print both forms and their counts."""
    for short in (False, True):
        form = played(short=short)
        lines = ["short form" if short else "long form"]
        lines += [f"  {answer:12} {said}" for answer, said in form.turns]
        goal = f" (at most {MOST_ANSWERS} and {MOST_WORDS})" if short else ""
        lines.append(f"  {form.answers} answers, {form.words} words spoken{goal}")
        sys.stdout.write("\n".join(lines) + "\n\n")


if __name__ == "__main__":
    main()
