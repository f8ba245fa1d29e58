"""Somebody who agrees to every question and calls what the dial shows ends with a square table.

An operator that knows nothing but the effects, as another program would play it: a station is
read off the dial, everything else is answered with the first phrase offered, the hands do what
the steps say. So the first phrase of an offer always carries the job on by the shortest way,
and what is not needed to square a table (noise, checks, other heights) is entered only by
asking for it.
"""

from decimal import Decimal

import pytest

from assistant.devices.text.lines import event_of
from assistant.dialogue.messages import Closed, Listen, Started, Step
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.form import Form
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.noise import Settling
from assistant.dialogue.procedures.repeat import Repeat
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.step import step
from assistant.simulation.bench import Bench, draw_machine, profile_for
from grammar.say import signed_words
from grammar.vocabulary import Station
from tests.dialogue.typed import AT

SHORTEST_WAY = {
    *(Safety.UNPLUGGED, Safety.KEY_OUT, Safety.TABLE_HELD, SetUp.SETUP, Lock.LOCK, Sweeping.ZERO),
    *(Sweeping.SWEEP, Close.DECIDE, Bolt.LOOSEN, Bolt.SHIM, Bolt.TIGHTEN, Tap.EASE),
    *(Tap.TAP, Tap.TAP_LOCK, Close.CLOSE, Close.CLOSED),
    *(Repeat.AGAIN, Repeat.REFIT, Settling.SURFACE, Form.CORNERS),
}
"""The phases of squaring a table with tilt bolt and lock by a dial."""

MOST_ANSWERS = 300


class Hands:
    """A bench worked by the steps alone."""

    def __init__(self, seed: int) -> None:
        self.bench = Bench(draw_machine(seed))
        self.bench.lock_all()
        self.target: Decimal | None = None

    def do(self, told: Step) -> None:
        """What the step says."""
        match told.do:
            case "loosen" if told.what == "tilt bolt":
                self.bench.loosen_bolt()
            case "loosen":
                self.bench.ease_lock()
            case "shim":
                total = told.total or Decimal(0)
                self.bench.fit_shim(-total if told.place == "below" else total)
            case "tighten":
                self.bench.lock_all()
            case "relock":
                self.bench.lock_again()
            case "refit":
                self.bench.turn_bar()
            case "tap":
                self.target = told.dial_target
            case "zero":
                self.bench.lock_all()
                assert told.station is not None
                self.bench.zero(told.station)
            case _:
                assert told.do == "close"

    def called(self, station: Station) -> str:
        """A reading as it is called, after a stroke when there is something to tap to."""
        if self.target is not None and self.bench.table_lock == "snug":
            self.bench.tap(station, float(self.target - self.bench.read(station)))
        value = self.bench.read(station)
        return f"{station} {signed_words(value)}"


@pytest.mark.parametrize("seed", range(1, 13))
def test_agreeing_to_everything_squares_the_table(seed: int) -> None:
    hands, visited = Hands(seed), set[Phase]()
    state, effects = step(None, Started(AT, "agreeable", profile_for()))
    for _ in range(MOST_ANSWERS):
        visited.add(state.phase)
        listen = None
        for effect in effects:
            if isinstance(effect, Step):
                hands.do(effect)
            if isinstance(effect, Listen):
                listen = effect
            if isinstance(effect, Closed):
                assert effect.finished
        if state.phase is Close.CLOSED:
            break
        assert listen is not None
        if listen.station is not None:
            line = hands.called(listen.station)
        else:
            line = listen.offer.phrases()[0]
        state, effects = step(state, event_of(line, AT, state.turn, state.profile.scale))
    assert state.phase is Close.CLOSED
    assert visited <= SHORTEST_WAY, "ask for nothing more unless the person wants it"
    assert hands.bench.tilt < 4.0
