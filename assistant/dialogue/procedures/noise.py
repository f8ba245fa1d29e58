"""The noise: how rough the surface is, how well the lock repeats, how far it pulls."""

from dataclasses import replace
from decimal import Decimal
from typing import Final

from assistant.dialogue.facts import Measuring
from assistant.dialogue.formatting import amount, spoken_step
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Effect, Heard, Learned
from assistant.dialogue.methods import method_of, spots_apart, way_of
from assistant.dialogue.phases import Phase
from assistant.dialogue.procedures.lock import Lock
from assistant.dialogue.procedures.sweep import back_to_sweep
from assistant.dialogue.rows import Procedure, Row
from assistant.dialogue.spoken import spoken
from assistant.dialogue.spots import SPOTS, further_words
from assistant.dialogue.state import SETTLED_AT, State
from assistant.dialogue.sweep_answer import count_unit, noise_of, step_of
from assistant.dialogue.turn import Outcome, Turn, ask, done, go, tell
from assistant.dialogue.wording import noted, noted_now, watch_this
from assistant.metrology.lengths import Unit
from assistant.metrology.problem import Noise
from assistant.metrology.scatter import SIDE_STATION_SHARE, relock_scatter, surface_scatter
from grammar.meaning import Reading
from grammar.vocabulary import Station


class Settling(Phase):
    """The kinds of noise, in the order in which they are measured."""

    SURFACE = "surface"
    RELOCK = "relock"
    SNUG = "snug"
    HARD = "hard"


FEWEST = 3
"""Readings that a scatter is made from at least."""

# -- words -------------------------------------------------------------------------------


@spoken
def relock(station: Station) -> str:
    """How well the lock repeats."""
    return f"Hold the table. Unlock, lock to the mark. Call {station} each time, then done."


@spoken
def snug(station: Station) -> str:
    """The pull of the lock, first reading."""
    return f"Lock it snug. {station.capitalize()}?"


@spoken
def hard(station: Station) -> str:
    """The pull of the lock, second reading."""
    return f"Pull the lock hard. {station.capitalize()}?"


NEXT_SPOT: Final = "Next spot?"  # while spots of the surface are read
OR_DONE: Final = "Another spot, or done?"  # once there are as many as were asked for

NOTED_BACK: Final = "Taken back."  # the last noise reading is gone
TOO_FEW: Final = "Three readings at least."  # scatter cannot be told from fewer


@spoken
def settled(surface: str, relocking: str, pull: str) -> str:
    """What was measured, each part that was."""
    parts = [("Surface", surface), ("locking", relocking), ("lock pull", pull)]
    told = ", ".join(f"{name} {value}" for name, value in parts if value)
    return f"{told[:1].upper()}{told[1:]}." if told else "Nothing measured."


@spoken
def tighten_again(station: Station) -> str:
    """How well a head comes back to where it was when its bolts are tightened again."""
    return f"Support the head. Bolts snug, tight again. Call {station} each time, then done."


# -- what is done ------------------------------------------------------------------------


def _spots(state: State) -> str:
    profile = state.profile
    by = method_of(profile)
    if state.settling:
        return NEXT_SPOT if len(state.settling) < SPOTS else OR_DONE
    return by.spot or spots_apart(by.watched, further_words(profile))


def _relock(state: State) -> str:
    again = tighten_again if state.profile.kind == "head" else relock
    return again(SETTLED_AT)


def begun(state: State) -> State:
    """Begin with the surface; what was measured before stays until it is measured again."""
    return replace(state, settling=())


def in_passing(state: State, said: str) -> Turn:
    """The surface alone, with everything locked, on the way."""
    return go(
        replace(state, settling=(), measuring=Measuring(asked=True, in_passing=True)),
        Settling.SURFACE,
        said,
    )


def _passed(state: State) -> State:
    return replace(state, measuring=replace(state.measuring, in_passing=False))


def _reading(state: State, called: Reading, _: Heard) -> Turn:
    """One reading of the measurement that is being made."""
    if state.phase is not Settling.SURFACE and called.station not in (None, SETTLED_AT):
        return ask(state, watch_this(SETTLED_AT))
    if called.correction and state.settling:
        replaced = replace(state, settling=(*state.settling[:-1], called.value))
        return tell(replaced, noted_now(called.value, way_of(state.profile)))
    told = noted(called.value, way_of(state.profile))
    taken = replace(state, settling=(*state.settling, called.value))
    if state.phase is Settling.SNUG:
        return go(taken, Settling.HARD, told)
    if state.phase is Settling.HARD:
        # The last two are snug and hard, whatever was taken back between them.
        pull = abs(taken.settling[-1] - taken.settling[-2])
        return _finish(replace(taken, profile=replace(state.profile, lock_pull=pull)), told)
    return tell(taken, told)


def _surface_done(state: State, heard: Heard) -> Turn:
    """Enough readings of this kind: keep them and go on to the next kind."""
    if len(state.settling) < FEWEST and state.measuring.in_passing:
        # Asked for on the way, and not wanted: on without it.
        return done(_passed(replace(state, settling=())), Outcome.ADVISE)
    if len(state.settling) < FEWEST:
        return ask(state, TOO_FEW)
    profile = replace(
        state.profile, surface=state.settling, surface_on=heard.at[:10], surface_days=0.0
    )
    known = replace(state, profile=profile, settling=())
    if state.measuring.in_passing:
        # Nothing was loosened: the sweep before still stands, and is known better now.
        return done(_passed(known), Outcome.KNOWN_BETTER, "", Learned(profile))
    return go(known, Settling.RELOCK)


def _relock_done(state: State, heard: Heard) -> Turn:
    if len(state.settling) < FEWEST:
        return ask(state, TOO_FEW)
    profile = replace(
        state.profile, relock=state.settling, relock_on=heard.at[:10], relock_days=0.0
    )
    return go(replace(state, profile=profile, settling=()), Settling.SNUG)


def _left_out(state: State, _: Heard) -> Turn:
    """Leave this kind out; what is known of it from before stays."""
    empty = replace(state, settling=())
    if state.measuring.in_passing:
        return done(_passed(empty), Outcome.ADVISE)
    if state.phase is Settling.SURFACE:
        return go(empty, Settling.RELOCK)
    if state.phase is Settling.RELOCK:
        return go(empty, Settling.SNUG)
    return _finish(empty, "")


def _back_from_surface(state: State, heard: Heard) -> Turn:
    if state.measuring.in_passing and not state.settling:
        return back_to_sweep(_passed(state), heard)
    return _taken_back(state, heard) if state.settling else go(state, Lock.LOCK)


def _back_from_relock(state: State, heard: Heard) -> Turn:
    return _taken_back(state, heard) if state.settling else go(state, Settling.SURFACE)


def _taken_back(state: State, _: Heard) -> Turn:
    """Take the last reading of this kind back."""
    return ask(replace(state, settling=state.settling[:-1]), NOTED_BACK)


def _none_yet(state: State) -> tuple[str, ...]:
    """Withheld while there is nothing to correct."""
    return () if state.settling else ("correction",)


def _finish(state: State, told: str) -> Turn:
    profile = state.profile
    words = settled(
        _surface_words(profile),
        _relock_words(profile),
        "" if profile.lock_pull is None else amount(profile.lock_pull, spoken_step(profile)),
    )
    effects: tuple[Effect, ...] = (Learned(profile),)
    return go(replace(state, settling=()), Lock.LOCK, f"{told} {words}".strip(), *effects)


def _surface_words(profile: Profile) -> str:
    """How rough the table is to one reading, as it is reckoned with; nothing where not measured."""
    if len(profile.surface) < FEWEST:
        return ""
    return _most(surface_scatter(*_known(profile)).sd, profile)


def _relock_words(profile: Profile) -> str:
    """Likewise how well the lock repeats, at the station where it was read."""
    scatter = relock_scatter(*_known(profile))
    if scatter is None or len(profile.relock) < FEWEST:
        return ""
    # Reckoned with for a difference of stations, of which the dial saw the one.
    return _most(scatter.sd * SIDE_STATION_SHARE, profile)


def _known(profile: Profile) -> tuple[Noise, Unit, float]:
    return noise_of(profile), count_unit(profile), float(step_of(profile))


def _most(sd: float, profile: Profile) -> str:
    """Twice a standard deviation: about what most readings stay within."""
    return amount(2 * sd, spoken_step(profile))


def _expected(state: State, _: Station | None) -> Decimal | None:
    """A reading is near the one before."""
    return state.settling[-1] if state.settling else None


def _at_right(_: State) -> Station:
    return SETTLED_AT


PROCEDURE = Procedure(
    (
        Row(
            Settling.SURFACE,
            "ROUGH?",
            _spots,
            {
                "done": _surface_done,
                "skip": _left_out,
                "correction": _taken_back,
                "disregard": _back_from_surface,
            },
            withheld=_none_yet,
            on_reading=_reading,
            doubt="none",
            expected=_expected,
            readings=True,
            how="The table stays locked. Only the tip moves.",
        ),
        Row(
            Settling.RELOCK,
            "RELOCK",
            _relock,
            {
                "done": _relock_done,
                "skip": _left_out,
                "correction": _taken_back,
                "disregard": _back_from_relock,
            },
            withheld=_none_yet,
            on_reading=_reading,
            doubt="none",
            expected=_expected,
            readings=True,
            station=_at_right,
            how="The dial stays put, the table comes back.",
        ),
        Row(
            Settling.SNUG,
            "SNUG",
            snug(SETTLED_AT),
            {"skip": _left_out, "disregard": Settling.RELOCK},
            on_reading=_reading,
            doubt="none",
            expected=_expected,
            readings=True,
            station=_at_right,
            how="Tight enough to hold, no more.",
        ),
        Row(
            Settling.HARD,
            "HARD",
            hard(SETTLED_AT),
            {"skip": _left_out, "disregard": Settling.SNUG},
            on_reading=_reading,
            doubt="none",
            expected=_expected,
            readings=True,
            station=_at_right,
            how="As tight as you ever pull it.",
        ),
    ),
)
