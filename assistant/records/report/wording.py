"""Numbers and steps in the words of the printed reports.

Belongs here: units and rounding for print, names of sides, one line for each step. Spoken
words are the dialogue's.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal

from assistant.dialogue.formatting import tolerance_here
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import Step
from assistant.dialogue.methods import way_of
from assistant.dialogue.procedures.packing import packing_told
from assistant.dialogue.state import State
from assistant.metrology.answer import Answer
from assistant.metrology.lengths import Length, Unit
from assistant.metrology.uncertainty import Source
from assistant.records.names import one_line

MINUS = "−"

SOURCES: dict[Source, str] = {
    "surface": "table surface",
    "resolution": "reading the dial",
    "relock": "unlocking and relocking",
    "lock_pull": "pull of the lock",
    "indicator": "indicator",
    "drift": "drift of the dial",
    "form": "table not flat",
    "response": "response to the shim",
    "leaves": "shim leaves",
    "gauge": "feeler gauge",
    "sweeps": "scatter between the sweeps",
    "end_play": "end play of the spindle",
    "reading": "reading the same spot again",
    "station": "where the stations are read",
    "lever": "angle of the lever",
}
"""What the parts of an uncertainty budget are called."""

FINE_STEP = Decimal("0.1")
"""From this step on a tenth of a count is not enough."""

_AROUND = (
    "back", "back right", "right", "front right", "front", "front left", "left", "back left",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Words:
    """Numbers of one job in words: counts of its scale become thou or millimetres."""

    profile: Profile

    @property
    def unit(self) -> str:
        """What numbers are printed in."""
        return "thou" if self._inch else "mm"

    def number(self, counts: float) -> str:
        """A computed value: to a tenth of a count, finer where the dial is read so finely.

        >>> Words(Profile()).number(-6.04)
        '−6.0'
        """
        value, places = (counts, 1) if self._inch else (counts / 100, 3)
        places += self.profile.scale.step <= FINE_STEP
        text = f"{abs(value):.{places}f}"
        return f"{MINUS}{text}" if value < 0 and float(text) else text

    def signed(self, counts: float) -> str:
        """The same with a plus sign above zero."""
        text = self.number(counts)
        return text if text.startswith(MINUS) or not float(text) else f"+{text}"

    def called(self, counts: Decimal) -> str:
        """A called reading, exactly, with the decimals of the dial; zero and a gap have no sign."""
        step = self.profile.scale.step
        value, finest = (counts, step) if self._inch else (counts / 100, step / 100)
        # As many decimals as the dial shows, more only where more was called.
        text = f"{abs(value.quantize(finest) if value % finest == 0 else value):f}"
        if not value or way_of(self.profile) == "plain":
            return text
        return f"{MINUS if value < 0 else '+'}{text}"

    @property
    def _inch(self) -> bool:
        return self.profile.scale.system == "thou"

    def amount(self, counts: float) -> str:
        """A size with its unit, without sign."""
        return f"{self.number(abs(counts))} {self.unit}"

    def exact(self, counts: Decimal) -> str:
        """An exact size (a leaf, a shim) with its unit, without sign."""
        value = abs(counts) if self._inch else abs(counts) / 100
        return f"{value.normalize():f} {self.unit}"

    def length(self, length: Length) -> str:
        """A size of the machine, in inches or millimetres."""
        unit: Unit = "in" if self._inch else "mm"
        return f"{float(length.to(unit)):g} {unit}"

    def tolerance(self) -> str:
        """The tolerance with its unit."""
        unit: Unit = "thou" if self._inch else "mm"
        return f"{float(tolerance_here(self.profile).to(unit)):g} {unit}"

    def axis(self, value: float, noise: float, positive: str, negative: str) -> str:
        """One difference in words: which side is high; inside the noise it is said so."""
        if not float(self.number(abs(value))):
            return "square, as far as can be told"
        high = f"{positive if value > 0 else negative} high {self.amount(value)}"
        return f"{high} (too small to be sure)" if abs(value) <= noise else high

    def front_to_back(self, answer: Answer) -> str:
        """The difference front to back in words."""
        noise = answer.budget.front_minus_back.expanded()
        return self.axis(answer.front_minus_back, noise, "front", "back")

    def side_to_side(self, answer: Answer) -> str:
        """The difference side to side in words."""
        noise = answer.budget.right_minus_left.expanded()
        return self.axis(answer.right_minus_left, noise, "right", "left")

    def tilt(self, answer: Answer) -> str:
        """The tilt with its uncertainty over the sweep."""
        size, wide = self.number(answer.tilt), self.number(answer.expanded_uncertainty)
        return f"{size} ± {wide} {self.unit}"

    def step(self, step: Step) -> str:
        """A correction as one line."""
        match step.do:
            case "shim":
                return self._shim(step)
            case "tap":
                return self._tap(step)
            case "nod" | "tilt":
                target = self.called(step.dial_target or Decimal(0))
                return f"{step.do} the head until the dial at the {step.station} shows {target}"
            case "pull pin":
                return "locating pin out"
            case "loosen" | "tighten":
                return f"{step.do} {step.what or 'it'}"
            case "refit":
                return "bar half a turn round in the chuck"
            case "relock":
                return "unlock and lock to the mark"
            case "zero":
                return "dial to zero"
            case "lower":
                return f"lower the {step.what} until it drags"
            case "set":
                return f"{step.what} on leaf {self.exact(step.total or Decimal(0))}"
            case "close":
                return "lock up, bar out"

    def _tap(self, step: Step) -> str:
        """A tap by what is read there; by touch how far is not known."""
        if step.dial_target is None or self.profile.method == "touch":
            return f"tap the {step.station} down a little"
        target = self.called(step.dial_target)
        until = {
            "gap": f"the gap there is {target}", "square": f"{target} is read there",
        }.get(self.profile.method, f"the dial there shows {target}")  # fmt: skip
        way = "up" if (step.change or 0) > 0 else "down"
        return f"tap the {step.station} {way} until {until}"

    def _shim(self, step: Step) -> str:
        if not step.total:
            at = f" at the {step.station}" if step.station else ""
            return f"take the shim{at} out"
        side = f"under the {step.station}" if step.station else f"{step.place} the tilt bolt"
        stack = " + ".join(f"{leaf.normalize():f}" for leaf in self._leaves(step))
        made_of = f" ({stack})" if len(step.leaves) > 1 else ""
        return f"shim {self.exact(step.total)}{made_of} {side}"

    def _leaves(self, step: Step) -> tuple[Decimal, ...]:
        return step.leaves if self._inch else tuple(leaf / 100 for leaf in step.leaves)

    def shims_of(self, state: State) -> str:
        """All shims that are in, at the bolt or under the feet; nothing without one."""
        told = [self.shim_in(state.shims.total)] if state.shims.total else []
        told += [f"{self.exact(total)} under the {side}" for side, total in packing_told(state)]
        return " and ".join(told)

    def shim_in(self, signed: Decimal) -> str:
        """A shim that is in, above the bolt positive."""
        if not signed:
            return "no shim"
        return f"{self.exact(signed)} {'above' if signed > 0 else 'below'} the tilt bolt"


def bearing_words(bearing_deg: float) -> str:
    """The nearest of eight directions, seen from above.

    >>> bearing_words(190.0), bearing_words(350.0)
    ('front', 'back')
    """
    return _AROUND[round(bearing_deg / 45) % 8]


def day_of(at: str) -> str:
    """The local day of an ISO 8601 time as people write it, or the text as it is.

    >>> day_of("2031-05-04T12:00:00Z")
    '4 May 2031'
    """
    when = _local(at)
    if when is None:
        return one_line(at, 40)
    return f"{when.day} {_MONTHS[when.month - 1]} {when.year}"


def minute_of(at: str) -> str:
    """Local day and minute of an ISO 8601 time with the zone, or the text as it is."""
    when = _local(at)
    if when is None:
        return one_line(at, 40)
    return f"{day_of(at)}, {when:%H:%M} {_zone(when)}"


def second_of(at: str) -> str:
    """The local time of day of an ISO 8601 time, to the second, or the text as it is."""
    when = _local(at)
    return one_line(at, 40) if when is None else f"{when:%H:%M:%S}"


def zone_of(at: str) -> str:
    """How far the local clock was from UTC at this time: "UTC+2"; empty when it is not a time."""
    when = _local(at)
    return "" if when is None else _zone(when)


def _local(at: str) -> datetime | None:
    """The record keeps UTC; whoever reads a page looks at the clock in the shop."""
    try:
        when = datetime.fromisoformat(at)
        return (when if when.tzinfo else when.replace(tzinfo=UTC)).astimezone()
    except (ValueError, OverflowError, OSError):
        return None


def _zone(when: datetime) -> str:
    # The system's own names of zones are many, and not unique.
    offset = when.utcoffset()
    minutes = round(offset.total_seconds() / 60) if offset else 0
    if not minutes:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{MINUS if minutes < 0 else '+'}{hours}" + (f":{rest:02}" if rest else "")


# Not strftime's names, which depend on the system's language.
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
