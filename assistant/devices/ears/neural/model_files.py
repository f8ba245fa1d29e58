"""Where the model of English is, and whether its files are those that were measured.

The wheel of ``moonshine-voice`` carries them. The package itself is never imported: it would
load a second runtime and a sound library. The files are compared with their SHA-256. The networks
are then loaded by their paths: given their bytes, the runtime would keep those beside what it
makes of them, 43 MB for as long as it hears.
"""

import hashlib
import importlib.util
from dataclasses import dataclass
from pathlib import Path

from assistant.devices.ears.model_faults import RecogniserError

PACKAGE = "moonshine_voice"
FOLDER = Path("assets") / "tiny-en"
AGAIN = "install it again: pip install --force-reinstall moonshine-voice==0.0.73"

FILES = {
    "encoder_model.ort": "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
    "decoder_model_merged.ort": "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
    "tokenizer.bin": "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
}
"""Names of the files that are needed, and their SHA-256."""


@dataclass(frozen=True, slots=True)
class ModelFiles:
    """The model's files, verified: two networks by their paths, and the tokens' bytes."""

    encoder: Path
    decoder: Path
    tokens: bytes


def why_not() -> str:
    """Why this computer has no neural recogniser, in a few words; empty when it has one."""
    for module, name in ((PACKAGE, "moonshine-voice"), ("onnxruntime", "onnxruntime")):
        if importlib.util.find_spec(module) is None:
            return f"the package {name} is not installed"
    return ""


def shipped_folder() -> Path:
    """The folder of the model inside the installed package. Raises ``RecogniserError``."""
    found = importlib.util.find_spec(PACKAGE)
    places = list(found.submodule_search_locations or ()) if found else []
    if not places:
        raise RecogniserError("the package moonshine-voice is not installed")
    return Path(places[0]) / FOLDER


def read_model_files(folder: Path | None = None) -> ModelFiles:
    """Read and verify the files. Raises ``RecogniserError``: missing, cut short, or others."""
    folder = folder or shipped_folder()
    for name, wanted in FILES.items():
        try:
            with (folder / name).open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            reason = error.strerror or "it cannot be read"
            raise RecogniserError(f"the speech model lacks {name} ({reason}); {AGAIN}") from error
        if found != wanted:
            raise RecogniserError(f"{name} of the speech model is damaged or another; {AGAIN}")
    encoder, decoder, tokens = (folder / name for name in FILES)
    return ModelFiles(encoder, decoder, tokens.read_bytes())
