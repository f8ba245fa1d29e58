"""Whoever cannot hear a word reads every one: on the screen, small and ordinary, and in lines."""

import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from assistant.bench.caption import KEYED_S, Caption
from assistant.bench.live_bench import LiveBench
from assistant.bench.wishes import Wishes
from assistant.devices.ears.hearing import Recogniser
from assistant.devices.screen.picture import LEAVE, Moment, picture
from assistant.devices.text.lines import event_of
from assistant.dialogue.job import JOB
from assistant.dialogue.messages import Effect, Event, KeyPressed, RoomNoise, Say, Started
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.close import Close
from assistant.dialogue.procedures.head import Head
from assistant.dialogue.procedures.safety import Safety
from assistant.dialogue.procedures.setup import SetUp
from assistant.dialogue.procedures.shim import Bolt
from assistant.dialogue.procedures.sweep import Sweeping
from assistant.dialogue.procedures.tap import Tap
from assistant.dialogue.procedures.touch import Touching
from assistant.dialogue.state import State
from assistant.dialogue.step import step
from assistant.dialogue.view import CAUTION, ORDERS, RULES, View, view
from assistant.records.journal.journal import Journal
from assistant.simulation.bench import Bench as Machine
from assistant.simulation.bench import draw_machine, profile_for
from assistant.simulation.caller import Operator
from tests.devices.golden_pictures import LOUD, SHIM, SWEEP, text_of
from tests.dialogue.prompt_list import listed
from tests.dialogue.typed import AT, TypedJob

SIZES = ((80, 24), (40, 12))
MOMENTS = (Moment(level_db=-20.0), Moment(hears=False, keyed="right -12.5"))


def _plain(text: str) -> str:
    return " ".join(text.split())


def _shows_all(shown: View) -> None:
    for columns, rows in SIZES:
        for moment in MOMENTS:
            made = picture(shown, moment, columns - 1, rows)
            seen = _plain(text_of(made))
            assert _plain(shown.said) in seen, f"{columns} x {rows}:\n{text_of(made)}"
            assert _plain(shown.step) in seen, f"{columns} x {rows}:\n{text_of(made)}"
            assert not moment.keyed or moment.keyed in seen
            assert "Unplug. Hold the table." in seen or "Unplugged. Spindle by hand." in seen


@pytest.mark.parametrize("text", [text for _, text in listed()])
def test_every_prompt_fits_with_the_question_beside_it(text: str) -> None:
    for shown in (SWEEP, SHIM, LOUD):
        _shows_all(replace(shown, said=text))
        _shows_all(replace(shown, said=f"{text} {shown.step}"))
        _shows_all(replace(shown, said=text, step=text))


@pytest.mark.parametrize("phase", [phase for phase in JOB.table if phase is not Close.CLOSED])
def test_what_was_said_and_is_asked_in_every_phase(phase: Phase) -> None:
    job = TypedJob.at(phase)
    for words in ("", "help", "status", "mumble", "mumble"):
        said = job.say(words) if words else job.state.last_said
        shown = view(job.state)
        assert shown.said == said
        _shows_all(shown)


def test_on_a_small_screen_the_caution_stays_however_long_the_status_is() -> None:
    long = (
        "Sweep four. Found twelve and a half, now six and a half. Back high two and a half. Left "
        "high six. Plus or minus two and a half, mostly a rough table. A two hundred millimetre "
        "hole leans three and a half hundredths to the front right."
    )
    said = f"{long} Hold the table. Loosen the tilt bolt. Done?"
    shown = replace(SHIM, said=said, step="Hold the table. Loosen the tilt bolt. Done?")
    made = text_of(picture(shown, Moment(hears=False, keyed="status"), 40, 12))
    assert _plain(said) in _plain(made)
    assert "Unplugged. Spindle by hand." in made


def _whole_job(seed: int) -> Iterator[tuple[State, str]]:
    """A simulated job: each state with what was said on coming to it."""
    operator = Operator(Machine(draw_machine(seed)), profile_for())
    state, effects = step(None, Started(AT, "job", profile_for()))
    yield state, _said(effects)
    while state.phase is not Close.CLOSED:
        state, effects = step(state, _answer(operator, effects, state))
        yield state, _said(effects)


def _said(effects: Sequence[Effect]) -> str:
    return " ".join(effect.text for effect in effects if isinstance(effect, Say))


def _answer(operator: Operator, effects: Sequence[Effect], state: State) -> Event:
    words = operator.react(effects)
    assert words is not None
    return event_of(words, AT, state.turn, state.profile.scale)


@pytest.mark.parametrize("seed", [3, 22])
def test_a_whole_job_can_be_read(seed: int) -> None:
    phases = set()
    for state, said in _whole_job(seed):
        phases.add(state.phase)
        shown = replace(view(state), said=said)
        _shows_all(shown)
        _shows_all(replace(shown, listening="no microphone", lost=("microphone", "speaker")))
        seen = text_of(picture(shown, Moment(), 80, 24)).splitlines()
        assert not [
            row for row in seen if row.endswith(":") and row[:6] in ("Before", "Say:", "Keys:")
        ]
    assert {Bolt.SHIM, Tap.TAP, Close.CLOSED} <= phases


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class _Noted(LiveBench):
    """A bench that also keeps the effects of the last event."""

    def note_effects(self) -> list[Effect]:
        perform, effects = self.loop._perform, list[Effect]()

        def noted(effect: Effect) -> None:
            effects.append(effect)
            perform(effect)

        self.loop._perform = noted
        return effects


def _no_recogniser() -> Recogniser:
    raise AssertionError("nothing is to be heard")


def test_lines_at_a_terminal_tell_every_word_with_the_voice_off(tmp_path: Path) -> None:
    out = _Terminal()
    said: list[str] = []
    with Journal.open(tmp_path / "jobs.db") as journal:
        bench = _Noted(
            profile_for(), journal, Wishes(ears="off", voice="off"), _no_recogniser,
            _Terminal(), out, io.StringIO(),
        )  # fmt: skip
        effects = bench.note_effects()
        operator = Operator(Machine(draw_machine(22)), profile_for())
        with bench._out:
            bench.loop.open_job()
            while not bench.loop.over:
                state = bench.loop.state
                assert state is not None
                said += [effect.text for effect in effects if isinstance(effect, Say)]
                event = _answer(operator, effects, state)
                effects.clear()
                bench.handle(event)
        said += [effect.text for effect in effects if isinstance(effect, Say)]
    lines = out.getvalue().splitlines()
    assert len(said) > 20
    for text in said:
        assert f"say: {text}" in lines


def test_lines_at_a_terminal_tell_what_was_keyed_before_what_is_said(tmp_path: Path) -> None:
    out = _Terminal()
    with Journal.open(tmp_path / "jobs.db") as journal:
        bench = LiveBench(
            profile_for(), journal, Wishes(ears="off", voice="off"), _no_recogniser,
            _Terminal(), out, io.StringIO(),
        )  # fmt: skip
        with bench._out:
            bench.loop.open_job()
            for key in ("enter", "5", "/", "1"):
                state = bench.loop.state
                assert state is not None
                bench.handle(KeyPressed(AT, state.turn, key))
    lines = [line for line in out.getvalue().splitlines() if line.startswith(("Keyed", "say"))]
    assert lines[0].startswith("say: Is the machine unplugged?")
    assert lines[1] == "Keyed: yes"
    assert lines[2].startswith("say: Chuck key out")
    assert lines[3] == "Keyed: status"
    assert len(lines) == 5


# -- the order, the keypad, the end ----------------------------------------------------------


@pytest.mark.parametrize(
    ("phase", "called", "order"),
    [
        (Tap.TAP, "right plus one", "One more down."),
        (Tap.TAP, "right minus one", "Too far. Back up one."),
        (Head.MOVE, "right plus one", "One more."),
        (Head.MOVE, "right minus two", "Too far. Back two."),
    ],
)
def test_coaching_replaces_the_order(phase: Phase, called: str, order: str) -> None:
    job = TypedJob.at(phase)
    before = view(job.state)
    # The dialogue and the screen tell the same.
    assert job.say(called).endswith(order)
    after = view(job.state)
    assert (before.step == after.step, after.step) == (False, order)
    seen = _plain(text_of(picture(after, Moment(), 79, 24)))
    assert before.step not in seen
    job.say("mumble")
    assert view(job.state).step == order, "what was not understood changes no order"


def test_the_caution_is_an_order_until_it_is_agreed_to() -> None:
    job = TypedJob.begin()
    for _ in range(3):
        assert view(job.state).caution == ORDERS
        assert "Unplug. Hold the table. Glasses on." in text_of(
            picture(view(job.state), Moment(), 39, 12)
        )
        job.say("yes")
    assert view(job.state).caution == CAUTION
    assert all(RULES in caution for caution in (ORDERS, CAUTION))
    for word in ("manual", "local codes", "licensed practice"):
        assert word in RULES


def test_the_newest_words_stay_and_older_ones_go() -> None:
    caption, job = Caption(), TypedJob.begin()
    caption.before(None, RoomNoise(AT, True))
    caption.say("One.")
    caption.say("Two.")
    assert caption.said == "One. Two."
    caption.before(job.state, KeyPressed(AT, 1, "5"))
    assert caption.said == "One. Two.", "a key that says nothing takes nothing away"
    caption.say("Three.")
    assert caption.said == "Three."


@pytest.mark.parametrize(
    ("phase", "keys", "keyed"),
    [
        (Safety.UNPLUGGED, "enter", "yes"),
        (Sweeping.SWEEP, "+ 2 . 5 enter", "right +2.5"),
        (Sweeping.SWEEP, "7 enter", "right 7"),
        (Sweeping.SWEEP, "+ 2 . 5", ""),
        (Sweeping.SWEEP, "/ 1", "status"),
        (Sweeping.SWEEP, "*", "say again"),
        (Bolt.SHIM, "+ 3 enter", "shim 3 above"),
        (SetUp.DIAMETER, "1 1 enter", "11"),
        (Touching.FIRST, "4", "left"),
        (Sweeping.SWEEP, ". . enter", ""),
    ],
)
def test_what_was_keyed_is_shown_for_a_moment(phase: Phase, keys: str, keyed: str) -> None:
    job, clock = TypedJob.at(phase), [100.0]
    caption = Caption(lambda: clock[0])
    for key in keys.split():
        event = KeyPressed(AT, job.state.turn, key)
        assert caption.keyed == ""
        caption.before(job.state, event)
        job.post(event)
    assert caption.keyed == keyed
    if keyed:
        seen = text_of(picture(view(job.state), Moment(keyed=caption.keyed), 80, 24))
        assert f"Keyed: {keyed}" in seen
    clock[0] += KEYED_S
    assert caption.keyed == ""


def test_a_job_that_is_over_says_how_to_leave() -> None:
    shown = view(TypedJob.at(Close.CLOSED).state)
    for columns, rows in SIZES:
        assert LEAVE not in text_of(picture(shown, Moment(), columns, rows))
        assert LEAVE in text_of(picture(shown, Moment(leaves=True), columns, rows))
