"""What is spoken about the work: how far a drilled hole leans."""


def leans(depth: str, amount: str, towards: str) -> str:
    """Where a drill comes out, for a tilt that stands out of the noise."""
    return f"A {depth} hole leans {amount} to the {towards}."


def leans_under(depth: str, amount: str) -> str:
    """The most that it may lean, where the tilt is inside the noise or hardly leans a hole."""
    return f"A {depth} hole leans under {amount}."
