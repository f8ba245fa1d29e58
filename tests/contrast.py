"""Whether a colour can be read on another one, after WCAG 2.2."""


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb``, 0 to 1, after WCAG 2.2 (sRGB, IEC 61966-2-1)."""
    red, green, blue = (_linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21, after WCAG 2.2."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
