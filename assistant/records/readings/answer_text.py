"""An answer as lines for people."""

from assistant.metrology.answer import Answer
from assistant.metrology.conformance import Verdict
from assistant.metrology.lean import lean_of_slope
from assistant.metrology.lengths import ZERO
from assistant.records.report.lean_text import angle_text, work_line
from assistant.records.report.proof_text import proof_text
from assistant.records.report.wording import SOURCES

VERDICTS: dict[Verdict, str] = {
    "within": "within the tolerance",
    "beyond": "beyond the tolerance",
    "undecided": "undecided: too close to the tolerance to call",
}


def answer_text(answer: Answer) -> str:
    """The whole answer in words and figures, one fact a line."""
    unit = answer.unit
    lines = [
        _axis("front to back", answer.front_minus_back, "front", "back", unit),
        _axis("side to side", answer.right_minus_left, "right", "left", unit),
        f"tilt           {answer.tilt:.3g} {unit} over the sweep{_bearing(answer)}",
    ]
    if answer.mm_per_300mm is not None and answer.thou_per_foot is not None:
        lines.append(
            f"               {answer.mm_per_300mm:.3g} mm per 300 mm, "
            f"{answer.thou_per_foot:.3g} thou per foot, {answer.angle_arcsec:.3g} seconds of arc "
            f"({angle_text(lean_of_slope(answer.mm_per_300mm / 300, ZERO, None))})"
        )
        lines.append(f"at the work    {_at_the_work(answer, answer.mm_per_300mm / 300)}")
    lines.append(
        f"uncertainty    ±{answer.expanded_uncertainty:.2g} {unit} "
        f"(95 %, k = {answer.coverage_factor:.3g}){_origins(answer)}"
    )
    if answer.inside_noise:
        lines.append("               too small to be sure: inside the uncertainty")
    if answer.verdict is not None:
        lines.append(f"verdict        {VERDICTS[answer.verdict]}")
        lines.append(f"               {proof_text(answer.judgement, lambda x: f'{x:.3g} {unit}')}")
    if answer.saddle is not None:
        lines.append(
            f"off plane      {answer.saddle:+.3g} {unit} (zero for a flat table, however it tilts)"
        )
    if answer.drift is not None:
        lines.append(f"drift          {answer.drift:+.3g} {unit}")
    lines += _shim_lines(answer) + _tap_lines(answer)
    lines += [f"note           {warning.text}" for warning in answer.warnings]
    return "\n".join(lines)


def _at_the_work(answer: Answer, slope: float) -> str:
    """Where a hole comes out: how far at most, where the tilt may be none at all."""
    inch = answer.unit in ("thou", "in")
    if not answer.inside_noise:
        return work_line(slope, answer.high_bearing_deg, inch)
    most = answer.tilt + answer.expanded_uncertainty
    per_tilt = answer.tilt_to_slope or 0.0
    return work_line(most * per_tilt, None, inch)


def _origins(answer: Answer) -> str:
    """Which of its parts were not measured here."""
    parts = answer.budget.tilt.components
    told = {
        origin: ", ".join(
            dict.fromkeys(
                SOURCES[part.source] for part in parts if part.origin == origin and part.u > 0
            )
        )
        for origin in ("assumed", "remembered")
    }
    return "".join(f"; {origin}: {names}" for origin, names in told.items() if names)


def _axis(name: str, value: float, high: str, low: str, unit: str) -> str:
    if value == 0:
        return f"{name:14} square"
    return f"{name:14} {high if value > 0 else low} high by {abs(value):.3g} {unit}"


def _bearing(answer: Answer) -> str:
    if answer.high_bearing_deg is None:
        return ""
    return f", highest at {answer.high_bearing_deg:.0f}° clockwise from the back"


def _shim_lines(answer: Answer) -> list[str]:
    shim, unit = answer.shim, answer.unit
    if shim.place is None or shim.total is None:
        return []
    lines = [
        f"shim           {shim.total:.3g} {unit} in all, {shim.place} the tilt bolt"
        + (f" ({shim.add:+.3g} to what is in)" if shim.add is not None else "")
    ]
    if shim.leaves:
        stack = " + ".join(str(leaf) for leaf in shim.leaves)
        lines.append(f"               from leaves {stack}")
    if shim.expected_left is not None:
        lines.append(
            f"               should leave front minus back {shim.expected_left:+.3g} {unit}"
        )
    lines.append(
        f"               one {unit} of shim moves the reading "
        f"{shim.response.value:.3g} ± {shim.response.uncertainty:.2g}"
    )
    return lines


def _tap_lines(answer: Answer) -> list[str]:
    tap, unit = answer.tap, answer.unit
    if tap.dial_target is None or tap.change == 0:
        return []
    return [
        f"tap            the {tap.watch} {'up' if tap.change > 0 else 'down'} by "
        f"{abs(tap.change):.3g} {unit}, until the dial reads {tap.dial_target:+.3g} there"
    ]
