"""Charts of the report: everything that is drawn is inside the drawing."""

from decimal import Decimal
from xml.etree import ElementTree

from assistant.dialogue.findings import ShimTrial
from assistant.dialogue.machine import Profile
from assistant.metrology.response import Response
from assistant.records.charts import response_chart
from assistant.records.wording import Words

LETTERS = 13.0
"""Height of the letters on a chart."""


def test_the_name_of_a_trial_that_ended_square_is_inside_the_drawing() -> None:
    trials = [
        ShimTrial(Decimal(0), Decimal(-2), -8.5, -6.5),
        ShimTrial(Decimal(-2), Decimal("-6.5"), -6.5, 0.0),
    ]
    chart = response_chart(trials, Response(1.3, 0.2), Words(Profile()))
    drawing = ElementTree.fromstring(chart.text)
    named = {text.text: float(text.attrib["y"]) for text in drawing.iter("text")}
    assert named["trial 2"] >= LETTERS
