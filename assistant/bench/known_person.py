"""The voice that was heard last: kept from one job to the next, so that it is asked less."""

import json
from pathlib import Path
from typing import TextIO

from assistant.devices.ears import Recogniser
from assistant.devices.engines import Engine, chosen, instead_of_the_leading
from assistant.devices.fallback.acoustics.person import Person, person_from
from assistant.devices.fallback.pocketsphinx_ears import PocketSphinx
from assistant.records.faults import RecordError
from assistant.records.whole_files import read_file, replace_file

MAX_BYTES = 20_000


class KnownPerson:
    """Gives recognisers who is likely to speak, and keeps at the end what was learnt.

    A file that cannot be read or written costs nothing but that: the reason is said on
    ``err``, and the voice is learnt anew.
    """

    def __init__(self, path: Path, err: TextIO, *, forget: bool = False) -> None:
        self._path, self._err = path, err
        if forget:
            self._drop()
        self.likely = self._load()
        """Who is likely to speak to the next recogniser."""
        self._made: PocketSphinx | None = None
        self._said = False

    def recogniser(self, engine: Engine) -> Recogniser:
        """An engine of this name; what the one before it learnt is passed on.

        Where one stands in for the leading one, the reason is said once on ``err``.
        """
        if self._made is not None:
            self.likely = self._made.person
        found = chosen(engine, self.likely)
        if found.instead and not self._said:
            self._said = True
            self._err.write(f"sweepsay: {instead_of_the_leading(found)}\n")
        made = found.recogniser
        self._made = made if isinstance(made, PocketSphinx) else None
        return made

    def keep(self) -> None:
        """Write down what was learnt, if anything was."""
        if self._made is None or self._made.person is self.likely:
            return
        plain = self._made.person.for_another_time().as_plain()
        try:
            replace_file(self._path, json.dumps(plain).encode("utf-8"))
        except RecordError as error:
            self._err.write(f"sweepsay: your voice is learnt anew next time: {error}\n")

    def _drop(self) -> None:
        try:
            self._path.unlink(missing_ok=True)
        except OSError as error:
            self._err.write(f"sweepsay: {self._path} cannot be deleted: {error.strerror}\n")

    def _load(self) -> Person:
        if not self._path.exists():
            return Person()
        try:
            plain = json.loads(read_file(self._path, MAX_BYTES))
            if not isinstance(plain, dict):
                raise ValueError("it is no object")
            return person_from(plain)
        except (RecordError, ValueError, RecursionError) as error:
            self._err.write(f"sweepsay: your voice is learnt anew: {self._path}: {error}\n")
            return Person()
