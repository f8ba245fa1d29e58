"""How was measured, in the words of the printed reports: dial, lever, leaves."""

from assistant.records.report.wording import Words


def how_read(words: Words) -> str:
    """The method and what it was read with."""
    profile, held = words.profile, words.profile.instrument
    if profile.method == "gap":
        return "gaps under a bent rod by feeler leaves"
    if profile.method == "touch":
        return "by touch of a bent rod, which tells no amount"
    if profile.method == "square":
        height = held.square_height
        over = f" over {words.length(height)}" if height is not None else ""
        return f"a square and feeler leaves{over}"
    parts = [f"dial read to {words.exact(profile.scale.step)}"]
    if held.face == "continuous":
        parts.append(f"counting one way round, {held.per_turn} to a turn")
    if held.higher == "minus":
        parts.append("counting down where the table is high")
    if held.lever_deg:
        tip = "with an involute tip" if held.tip == "involute" else "its cosine taken out"
        parts.append(f"lever at {held.lever_deg.normalize():f} degrees, {tip}")
    return ", ".join(parts)


def what_reads(words: Words) -> str:
    """What a reading says of the table there."""
    if words.profile.method == "gap":
        return "Gaps: the thickest that goes, smaller where the table is high."
    if words.profile.method == "square":
        return "Leaves at a square: plus is open at the bottom, the table high there."
    if words.profile.instrument.higher == "minus":
        return "Minus: table high there."
    return "Plus: table high there."


def set_at_first(words: Words) -> str:
    """What was done at the first station."""
    return "rod set to this leaf" if words.profile.method == "gap" else "dial set to zero"
