"""What a tilt means at the work, in figures for print: angle, rates, where a drill comes out."""

from assistant.metrology.lean import Lean, degrees_minutes_seconds, lean_of_slope, nearest_fraction
from assistant.metrology.lengths import Length
from assistant.records.report.wording import bearing_words


def angle_text(lean: Lean) -> str:
    """Degrees, minutes and seconds.

    >>> angle_text(lean_of_slope(0.1 / 300, Length.of(50, "mm"), None))
    '0° 1′ 9″'
    """
    degrees, minutes, seconds = degrees_minutes_seconds(lean.angle_deg)
    return f"{degrees}° {minutes}′ {seconds}″"


def rates_text(lean: Lean) -> str:
    """Per 300 mm and per foot."""
    return f"{lean.mm_per_300mm:.2g} mm per 300 mm, {lean.thou_per_foot:.2g} thou per foot"


def exit_text(lean: Lean, inch: bool, *, at_most: bool = False) -> str:
    """Where a drill comes out, from where it went in; ``at_most``: whichever way.

    >>> exit_text(lean_of_slope(0.004 / 12, Length.of(2, "in"), 0.0), True)
    'comes out 0.67 thou to the front'
    """
    offset = lean.exit_offset_mm / 0.0254 if inch else lean.exit_offset_mm
    size = f"{offset:.2g} {'thou' if inch else 'mm'}"
    if at_most or lean.towards_deg is None:
        return f"comes out within {size}"
    return f"comes out {size} to the {bearing_words(lean.towards_deg)}"


def depth_text(depth: Length, inch: bool) -> str:
    """A depth as it is set on a machine: inches in fractions.

    >>> depth_text(Length.of("1.5", "in"), True), depth_text(Length.of(50, "mm"), False)
    ('1 1/2 in', '50 mm')
    """
    if not inch:
        return f"{float(depth.mm):g} mm"
    whole, top, bottom = nearest_fraction(depth)
    parts = [str(whole)] if whole or not top else []
    return " ".join([*parts, *([f"{top}/{bottom}"] if top else [])]) + " in"


def work_line(slope: float, high_bearing_deg: float | None, inch: bool) -> str:
    """A hole of usual depth on a table of this slope (rise per run), as one line."""
    depth = Length.of(2, "in") if inch else Length.of(50, "mm")
    lean = lean_of_slope(slope, depth, high_bearing_deg)
    return f"a hole {depth_text(depth, inch)} deep {exit_text(lean, inch)}"
