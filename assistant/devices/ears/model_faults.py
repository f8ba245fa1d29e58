"""What is raised when a speech model cannot be fetched, stored, found or loaded."""


class ModelError(Exception):
    """A model cannot be installed or found; ``str()`` is one line: why, and what to do."""


class RecogniserError(RuntimeError):
    """The recogniser cannot do what is asked; the text says why and what to do."""


class NoRoom(ModelError):
    """The disk does not take it; what was downloaded is still good."""
