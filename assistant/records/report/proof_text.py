"""How sure a verdict is, in print: its probability and the guard band that was kept.

Belongs here: these words alone. The numbers are after JCGM 106 and ISO 14253-1.
"""

from collections.abc import Callable

from assistant.metrology.judgement import Judgement


def probability_text(judgement: Judgement) -> str:
    """The probability that the table is within tolerance; never certainty.

    >>> from dataclasses import replace
    >>> sure = Judgement("within", 0.99999, None, None, None, False, False, False)
    >>> probability_text(sure), probability_text(replace(sure, probability=0.314))
    ('over 99.9 %', '31 %')
    """
    probability = judgement.probability
    if probability is None:
        return ""
    if probability > 0.999:
        return "over 99.9 %"
    if probability < 0.001:
        return "under 0.1 %"
    near_an_end = min(probability, 1 - probability) < 0.1
    return f"{100 * probability:.1f} %" if near_an_end else f"{100 * probability:.0f} %"


def proof_text(judgement: Judgement, size: Callable[[float], str]) -> str:
    """What is proven and from where; ``size`` words a length. Nothing without a tolerance."""
    if judgement.probability is None or judgement.guard_band is None:
        return ""
    text = f"within tolerance with a probability of {probability_text(judgement)}"
    if judgement.reject_from is None:
        return f"{text}; proof takes a guard band of {size(judgement.guard_band)} at each limit"
    if judgement.accept_up_to is None:
        return f"{text}; with this uncertainty no table could be proven square"
    return (
        f"{text}; proven within up to {size(judgement.accept_up_to)} "
        f"(guard band {size(judgement.guard_band)}), beyond from {size(judgement.reject_from)}"
    )
