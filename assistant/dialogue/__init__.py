"""The job's conversation as a pure state machine: no clock, thread, file or device.

Files, in the order of the data: ``machine`` (machine and indicator), ``messages`` (events
in, effects out), ``state``, ``step`` (the one door), ``answers``, ``pending``, ``readings``
and ``commands`` (what an utterance does), ``procedures`` (each with its phases, words and
``rows``), ``job`` (their order, and what each outcome leads to), ``planner`` (which correction
next), ``questions`` (what is asked and listened for), ``wording`` (words that several speak),
``view`` (what a screen shows).
"""
