"""The voice that was heard last: kept from one job to the next, so that it is asked less.

Only the embedded recogniser learns of a person; the leading one hears everybody alike."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from assistant.devices.ears.engines import Chosen, Engine, chosen, instead_of_the_leading
from assistant.devices.ears.hearing import Recogniser
from assistant.records.faults import RecordError
from assistant.records.whole_files import read_file, replace_file

if TYPE_CHECKING:
    from assistant.devices.ears.fallback.acoustics.person import Person

MAX_BYTES = 20_000


class KnownPerson:
    """Gives recognisers who is likely to speak, and keeps at the end what was learnt.

    A file that cannot be read or written costs nothing but that: the reason is said on
    ``err``, and the voice is learnt from scratch.
    """

    def __init__(self, path: Path, err: TextIO, *, forget: bool = False) -> None:
        self._path, self._err = path, err
        if forget:
            self._drop()
        self._likely: Person | None = None
        self._made: Chosen | None = None
        self.instead = ""
        """Why the last recogniser stands in for the leading one; empty if it does not."""

    @property
    def likely(self) -> "Person":
        """Who is likely to speak to the next recogniser, for those that learn of a person."""
        if self._likely is None:
            self._likely = self._load()
        return self._likely

    def recogniser(self, engine: Engine) -> Recogniser:
        """An engine of this name; what the one before it learnt is passed on.

        Where one stands in for the leading one, the reason is said once on ``err``.
        """
        if self._made is not None:
            self._likely = self._made.person() or self._likely
        self._made = chosen(engine, lambda: self.likely)
        if self._made.instead and not self.instead:
            self._err.write(f"sweepsay: {instead_of_the_leading(self._made)}\n")
        self.instead = self._made.instead
        return self._made.recogniser

    def keep(self) -> None:
        """Write down what was learnt, if anything was."""
        person = self._made.person() if self._made is not None else None
        if person is None or person is self._likely:
            return
        plain = person.for_another_time().as_plain()
        try:
            replace_file(self._path, json.dumps(plain).encode("utf-8"))
        except RecordError as error:
            self._err.write(f"sweepsay: your voice is learnt from scratch next time: {error}\n")

    def _drop(self) -> None:
        try:
            self._path.unlink(missing_ok=True)
        except OSError as error:
            self._err.write(f"sweepsay: {self._path} cannot be deleted: {error.strerror}\n")

    def _load(self) -> "Person":
        # Only an engine that learns of a person needs these modules.
        from assistant.devices.ears.fallback.acoustics.person import Person, person_from

        if not self._path.exists():
            return Person()
        try:
            plain = json.loads(read_file(self._path, MAX_BYTES))
            if not isinstance(plain, dict):
                raise ValueError("it is not an object")
            return person_from(plain)
        except (RecordError, ValueError, RecursionError) as error:
            self._err.write(f"sweepsay: your voice is learnt from scratch: {self._path}: {error}\n")
            return Person()
