"""Charts of the report: everything that is drawn is inside the drawing."""

from decimal import Decimal
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.dialogue.facts import ShimTrial
from assistant.dialogue.machine import Profile
from assistant.metrology.response import Response
from assistant.metrology.uncertainty import Budget, Component, Origin, Source
from assistant.records.report.charts import budget_chart, response_chart
from assistant.records.report.wording import SOURCES, Words
from assistant.simulation.bench import profile_for
from grammar.scale import Scale, System

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


@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("origin", ["measured", "assumed"])
@pytest.mark.parametrize("system", ["thou", "mm"])
def test_every_part_of_a_budget_is_named_inside_the_drawing(
    source: Source, origin: Origin, system: System
) -> None:
    """By letters 0.53 as wide as high: wider pages do not draw them (DejaVu Sans, measured)."""
    budget = Budget((Component(source, 0.41, 5.0, origin), Component("drift", 0.3)))
    words = Words(Profile(scale=Scale(system)))
    drawing = ElementTree.fromstring(budget_chart(budget, words).text)
    texts = list(drawing.iter("text"))
    assert SOURCES[source] in {text.text for text in texts}
    for text in texts:
        x, wide = float(text.attrib["x"]), 0.53 * LETTERS * len(text.text or "")
        begins = text.attrib["text-anchor"] == "start"
        assert wide <= (520 - x if begins else x), text.text


def _box(text: ElementTree.Element) -> tuple[float, float, float, float]:
    """Where a label stands, by the letters that a page has on average (Helvetica: half as wide
    as high, common practice, no source)."""
    x, y = float(text.attrib["x"]), float(text.attrib["y"])
    wide = LETTERS / 2 * len(text.text or "")
    left = {"start": x, "middle": x - wide / 2, "end": x - wide}[text.attrib["text-anchor"]]
    return left, y - 0.75 * LETTERS, left + wide, y


def _apart(one: ElementTree.Element, other: ElementTree.Element) -> bool:
    a, b = _box(one), _box(other)
    return a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


thou = st.integers(-24, 24).map(lambda halves: Decimal(halves) / 2)


@given(
    st.lists(st.tuples(thou, thou), min_size=1, max_size=4),
    st.floats(-3, 3),
    st.sampled_from(["thou", "mm"]),
)
@settings(max_examples=150)
def test_no_label_stands_on_another(
    shims: list[tuple[Decimal, Decimal]], response: float, system: System
) -> None:
    """Wherever the trials lie: their names clear the figures of the axes and one another."""
    trials, shim, at = [], Decimal(0), 7.5
    for after, moved in shims:
        trials.append(ShimTrial(shim, after, at, at - float(moved)))
        shim, at = after, at - float(moved)
    profile = profile_for(system)
    chart = response_chart(trials, Response(response, 0.2), Words(profile))
    drawing = ElementTree.fromstring(chart.text)
    texts = [text for text in drawing.iter("text") if "transform" not in text.attrib]
    names = [text for text in texts if (text.text or "").startswith(("as found", "trial"))]
    assert len(names) == len(trials) + 1
    for name in names:
        assert all(_apart(name, other) for other in texts if other is not name)
        left, top, right, bottom = _box(name)
        _, _, wide, high = map(float, drawing.attrib["viewBox"].split())
        assert left >= 0
        assert top >= 0
        assert right <= wide
        assert bottom <= high
