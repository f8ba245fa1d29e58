"""The folder of machine profiles: one TOML file for each machine.

A machine is named as people name it ("Bench drill press"); its file is found by that name
without regard to capitals, spaces and dashes. No name leaves the folder.
"""

from dataclasses import dataclass
from pathlib import Path

from assistant.dialogue.machine import Profile
from assistant.records.faults import RecordError
from assistant.records.machines.machine_settings import set_keys
from assistant.records.machines.machine_toml import MAX_CHARACTERS, read_profile, write_profile
from assistant.records.names import file_name_of, one_line
from assistant.records.whole_files import read_file, replace_file


@dataclass(frozen=True, slots=True)
class Shelf:
    """The profiles in one folder."""

    folder: Path

    def path(self, name: str) -> Path:
        """Where the profile of this name is or would be; raises RecordError for a bad name."""
        return self.folder / f"{file_name_of(name)}.toml"

    def text(self, name: str) -> str:
        """The profile's file as it is; raises RecordError."""
        path = self.path(name)
        if not path.exists():
            known = ", ".join(self.names()) or "none yet"
            shown = one_line(name)
            raise RecordError(
                "bad_name",
                f'there is no machine "{shown}" (there are: {known}): '
                f"make it with 'sweepsay machine new'",
            )
        try:
            return read_file(path, 4 * MAX_CHARACTERS).decode("utf-8-sig")
        except UnicodeDecodeError:
            raise RecordError("bad_input", f"{path}: save it as UTF-8 text") from None

    def load(self, name: str) -> Profile:
        """The profile of a machine; raises RecordError that names file and line."""
        return read_profile(self.text(name), str(self.path(name)))

    def names(self) -> tuple[str, ...]:
        """The names of the files without their ending, in order."""
        if not self.folder.is_dir():
            return ()
        return tuple(sorted(path.stem for path in self.folder.glob("*.toml") if path.is_file()))

    def save(self, profile: Profile, *, replace: bool = False) -> Path:
        """Write a profile under its name, whole or not at all; returns the file.

        Raises RecordError when there is one of that name and ``replace`` is False.
        """
        path = self.path(profile.name)
        if path.exists() and not replace:
            raise RecordError(
                "bad_name",
                f'there is a machine "{one_line(profile.name)}" already: use another name, '
                f"or change it with 'sweepsay machine edit'",
            )
        text = write_profile(profile)
        # What is written can be read again, or it is not written.
        read_profile(text, str(path))
        replace_file(path, text.encode())
        return path

    def replace_text(self, name: str, text: str) -> Path:
        """Replace a profile's file by a text that can be used; raises RecordError.

        A machine that is called otherwise in the text moves to the file of that name.
        """
        path = self.path(name)
        profile = read_profile(text, str(path))
        target = self.path(profile.name)
        if target != path and target.exists():
            raise RecordError(
                "bad_name", f'there is a machine "{one_line(profile.name)}" already: '
                "use another name",
            )  # fmt: skip
        replace_file(target, text.encode("utf-8"))
        if target != path:
            path.unlink()
        return target


def remember_noise(shelf: Shelf, profile: Profile) -> None:
    """Put what was measured of noise and sign into a machine's file; the person's comments stay.

    A machine without a file has nothing to put it into, and nothing is done. Raises
    RecordError.
    """
    if not shelf.path(profile.name).exists():
        return
    settings = [
        f"noise.surface={','.join(map(str, profile.surface))}",
        f"noise.relock={','.join(map(str, profile.relock))}",
    ]
    days = {"surface_on": profile.surface_on, "relock_on": profile.relock_on}
    settings += [f"noise.{key}={day}" for key, day in days.items() if day]
    if profile.instrument.higher != Profile().instrument.higher:
        settings.append(f"indicator.higher={profile.instrument.higher}")
    if profile.lock_pull is not None:
        settings.append(f"noise.lock_pull={profile.lock_pull}")
    text, source = shelf.text(profile.name), str(shelf.path(profile.name))
    shelf.replace_text(profile.name, set_keys(text, settings, source))
