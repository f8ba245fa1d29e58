"""The colours of the reports.

Nothing is told by colour alone: every series has its own mark, every verdict its words.
"""

PAPER = "#ffffff"
PANEL = "#f4f6f8"
INK = "#1a1f26"
MUTED = "#4d5763"
RULE = "#c8d0d9"
AXIS = "#6b7683"
FRONT = "#0a5aa8"
SIDES = "#9a4205"
BAND = "#e2edf8"
HIGH = "#8fb8e0"
LOW = "#f3f6fa"
GOOD = "#0a5c33"
GOOD_PAPER = "#e3f3ea"
BAD = "#99191b"
BAD_PAPER = "#fbe9e8"
OPEN = "#5f4300"
OPEN_PAPER = "#fdf2d3"
