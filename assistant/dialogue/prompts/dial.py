"""What is spoken about dials that are not the usual one: signs, and faces with turns."""


def sign_test(one_way: bool) -> str:
    """What a leaf under the tip does to the number is what a higher table does."""
    hint = " Plus is up." if one_way else ""
    return f"Leaf under the tip: plus or minus?{hint}"


def higher_is(sign: str) -> str:
    """What the leaf did, read back."""
    return f"Table high reads {sign}."


def counter(question: str) -> str:
    """More than half a turn may have passed: the small hand knows."""
    return f"Check the turns. {question}"
