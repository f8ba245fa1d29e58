"""When what was heard may be the program's own voice, and when it had better stop speaking.

Half duplex drops what is known to be our voice; this is for what slips through: while it is not
known how late the voice arrives, and where talk or noise is answered again and again.
"""

from assistant.devices.ears.hearing import Utterance
from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.dialogue.messages import Event, Heard, KeyPressed
from grammar.meaning import Command

HELD_BACK_S = 0.35
"""An utterance is handed on so long after its end."""

PATIENCE = 3
"""So many unclear ones in a row are answered; after them no more is said about any."""

STOP_ASKED = ("stop", "here")
"""The words of the question that ends a job when it is affirmed."""


class OwnVoice:
    """Told what is said; ``echoes`` says what is not to be taken for an answer. Any thread."""

    def __init__(self, duplex: HalfDuplex) -> None:
        self._duplex = duplex
        self._prompt: tuple[str, ...] = ()

    def says(self, text: str) -> None:
        """This is being said now."""
        self._prompt = _words(text)

    def echoes(self, utterance: Utterance, now: float) -> bool:
        """Whether this is likely the last prompt, heard again; ``now`` in the devices' seconds.

        So it is when it began within the echo's reach and says nothing but words of the prompt
        in their order. What would end the job is not taken from there at all.
        """
        began = now - HELD_BACK_S - (utterance.end_s - utterance.start_s)
        if began >= self._duplex.reaches_until():
            return False
        if utterance.meaning == Command("yes") and _within(STOP_ASKED, self._prompt):
            return True
        return _within(_words(utterance.words), self._prompt)


class Brake:
    """Stops the answers to what is not clear, spoken again and again, until something is clear."""

    def __init__(self) -> None:
        self._unclear = 0
        self._now = False

    def on(self) -> bool:
        """Whether what is answered now is shown only."""
        return self._now and self._unclear > PATIENCE

    def passes(self, event: Event) -> None:
        """This is about to be answered."""
        match event:
            case Heard(source="voice", outcome="reject" | "ask", after_quiet=after_quiet):
                self._now = True
                self._unclear = 1 if after_quiet else self._unclear + 1
            case Heard(source="voice", outcome="talk"):
                self._now = True
            case Heard() | KeyPressed():
                self._now, self._unclear = False, 0
            case _:
                self._now = False


def _words(text: str) -> tuple[str, ...]:
    return tuple("".join(c if c.isalnum() else " " for c in text.lower()).split())


def _within(words: tuple[str, ...], whole: tuple[str, ...]) -> bool:
    """Whether these words stand in the whole, next to each other; no words never do."""
    count = len(words)
    return count > 0 and any(
        whole[at : at + count] == words for at in range(len(whole) - count + 1)
    )
