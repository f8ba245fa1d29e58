"""Which recogniser hears: the choice of an engine, and why it is not the leading one.

The only place that knows them all. An engine's modules are loaded when it is chosen.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from assistant.devices.ears.model_faults import ModelError, RecogniserError
from assistant.devices.ears.neural.model_files import why_not

if TYPE_CHECKING:
    from collections.abc import Callable

    from assistant.devices.ears.fallback.acoustics.person import Person

    # The command line names the engines before anything heavy is loaded.
    from assistant.devices.ears.hearing import Recogniser

Engine = Literal["auto", "neural", "pocketsphinx", "vosk"]
ENGINES: tuple[Engine, ...] = ("auto", "neural", "pocketsphinx", "vosk")


def _nobody() -> None:
    """Nothing is learnt."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """A recogniser.

    ``instead``: why it stands in for the leading one; empty if it does not. ``person``: what is
    known of whoever speaks now, None where the engine learns nothing of them.
    """

    recogniser: "Recogniser"
    instead: str = ""
    person: "Callable[[], Person | None]" = _nobody


def chosen(engine: Engine, likely: "Callable[[], Person] | None" = None) -> Chosen:
    """The engine of this name; "auto" is the neural one, or the embedded one where that fails.

    ``likely``: who is likely to speak; only the embedded engine asks.
    Raises ``RecogniserError`` when the engine or its model is not there.
    """
    match engine:
        case "neural":
            return Chosen(_neural())
        case "pocketsphinx":
            return _embedded(likely)
        case "vosk":
            return Chosen(_vosk())
        case "auto":
            try:
                return Chosen(_neural())
            except RecogniserError as error:
                return _embedded(likely, str(error))


def instead_of_the_leading(found: Chosen) -> str:
    """One line for the person: who hears, and why."""
    return f"heard by {found.recogniser.name}, which mishears more: {found.instead}"


def recogniser(engine: Engine) -> "Recogniser":
    """The same without the reason."""
    return chosen(engine).recogniser


def _neural() -> "Recogniser":
    if missing := why_not():
        raise RecogniserError(missing)
    from assistant.devices.ears.neural.neural_ears import Neural

    return Neural()


def _embedded(likely: "Callable[[], Person] | None", instead: str = "") -> Chosen:
    from assistant.devices.ears.fallback.pocketsphinx_ears import PocketSphinx

    made = PocketSphinx(likely() if likely else None)
    return Chosen(made, instead, lambda: made.person)


def _vosk() -> "Recogniser":
    from assistant.devices.ears.vosk.model_store import find_model
    from assistant.devices.ears.vosk.vosk_ears import Vosk

    try:
        return Vosk(find_model())
    except ModelError as error:
        raise RecogniserError(str(error)) from error
