"""``python -m tests.dialogue.golden_jobs``: replay the jobs, list what changed, write it down.

The events of a job stay as they were played; a job without a file is played first. To play one
again, remove its file.
"""

import sys

from tests.dialogue.golden_jobs import files
from tests.dialogue.golden_jobs.changes import Change, changes_of, listed
from tests.dialogue.golden_jobs.people import PLAYED
from tests.dialogue.golden_jobs.scripts import SCRIPTS, play


def main() -> int:
    """Write every job as it goes now."""
    changes: list[Change] = []
    present = files.names()
    for name in sorted({*present, *PLAYED, *SCRIPTS}):
        if name in present:
            job = files.read(name)
            changes += changes_of(job)
            job = files.played(name, job.known, job.events)
        elif name in PLAYED:
            job = files.played(name, None, PLAYED[name]())
            sys.stdout.write(f"played: {name}\n")
        else:
            script = SCRIPTS[name]
            job = files.played(name, script.known, play(script))
            sys.stdout.write(f"played: {name}\n")
        files.write(job)
    sys.stdout.write(listed(changes) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
