"""Whole jobs as they were played once, with every effect after every event.

``journals/`` holds them. `files` reads and writes one, `changes` says what is no longer as it
was, `scripts` and `people` are the jobs that were played. ``python -m tests.dialogue.golden_jobs``
replays them all, lists what changed and writes it down as the new state of things.
"""
