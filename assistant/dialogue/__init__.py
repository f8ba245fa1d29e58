"""The job's conversation as a pure state machine: no clock, thread, file or device.

Files, in the order of the data: ``machine`` (machine and indicator), ``messages`` (events
in, effects out), ``state``, ``phases`` (the table of what may be said when), ``sweeping``
(taking readings), ``judging`` (the answer and the next step), ``step`` (the one door),
``prompts`` (every spoken word), ``view`` (what a screen shows).
"""
