"""Cutting a stream of sound into utterances, by the same rule for any block size.

Only where an utterance begins and ends, and how loud it and the noise around it are.
Nothing here knows words. Times are seconds from the first sample that was fed.
"""

from collections import deque
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.voice_activity import (
    CHUNK,
    EnergyActivity,
    NeuralActivity,
    VoiceActivity,
    best_activity,
)

RATE = 16_000
CHUNK_S = CHUNK / RATE

Samples = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class EndpointRule:
    """When an utterance begins and ends.

    Probabilities are those of the voice detector; times in seconds, rounded to its chunks
    of 32 ms. ``preroll_s``: sound kept from before the first voiced chunk, because a weak
    first consonant is not voiced and because the recogniser needs to hear the noise alone.
    ``provisional_s``: silence after which decoding may begin; ``final_s``: silence after
    which the utterance is over; ``patience_s``: the same while what was said is incomplete;
    ``quick_s``: the same when nothing can follow what was said; ``stirring_s``: how much longer
    any of these is while one of the last three chunks is ``stirring`` likely a voice: a weak
    first sound is slow to be known as one.
    ``shortest_s``: less voice than this is a knock. ``longest_s``: beyond this it is talk.
    ``nearer_db``: what is this much louder than the voice before it starts another call, because
    that was somebody further away; after that, what is less than ``others_db`` above those
    others is theirs, as long as the near voice is that much louder than they are.
    ``raised_db``: at most by so much the detector hears louder what comes from a room whose noise
    is below ``raised_to_db`` of full scale.
    ``sure``: of a voice that never becomes so likely one, ``on`` and ``off`` are less in the same
    proportion, ``faint_on`` and ``faint_off`` at least. It begins at ``faint_on`` if no voice was
    heard for ``faint_after_s``: before that it may be the room that goes on.
    """

    on: float = 0.5
    off: float = 0.35
    preroll_s: float = 0.5
    provisional_s: float = 0.12
    quick_s: float = 0.22
    final_s: float = 0.32
    patience_s: float = 1.1
    stirring: float = 0.2
    stirring_s: float = 0.16
    shortest_s: float = 0.09
    longest_s: float = 7.0
    nearer_db: float = 12.0
    others_db: float = 6.0
    raised_to_db: float = -50.0
    raised_db: float = 0.0
    sure: float = 0.8
    faint_on: float = 0.5
    faint_off: float = 0.35
    faint_after_s: float = 1.0

    @property
    def trailing_chunks(self) -> int:
        """Chunks of silence that a cut keeps after the voice: up to the provisional end."""
        return int(-(-self.provisional_s // CHUNK_S))


def rule_for(activity: VoiceActivity) -> EndpointRule:
    """The rule that suits a detector.

    The energy gate lets a voice go before its last weak sound, so more is kept after it; and
    its figure rises with every knock, which says nothing about a voice. The neural detector passes
    quiet voices over, which that gate measures against the room: of 139 single words of people at
    -60 dB of full scale, in a room at -72 dB, it found 83, and 136 when it heard them 20 dB louder.
    Through a telephone's band it hardly knows a voice for one: of 300 calls of people 7 were not
    found, 3 where a faint one may begin; with a fan at 15 dB too, 16 and 9. A blow that rings
    out in a quiet room is a voice by 0.32.
    """
    if isinstance(activity, EnergyActivity):
        return EndpointRule(provisional_s=0.15, stirring_s=0.0)
    if isinstance(activity, NeuralActivity):
        return EndpointRule(raised_db=20.0, faint_on=0.35, faint_off=0.22)
    return EndpointRule()


@dataclass(frozen=True, slots=True)
class Cut:
    """A stretch of sound in which somebody spoke.

    ``start_s``, ``end_s``: of the voice itself. ``samples``: with pre-roll and the silence
    up to the provisional end. ``state``: "provisional" (it may go on), "final", or
    "resumed" (it went on: forget the provisional one). ``overlong``: the cap was reached.
    ``speech_db``, ``noise_db``: mean power of the voiced chunks and median power of the
    unvoiced ones, in dB relative to one unit of sample value; ``snr_db`` their ratio with
    the noise's own power taken out of the speech. ``lead``: samples before the voice.
    """

    state: Literal["provisional", "final", "resumed"]
    start_s: float
    end_s: float
    samples: Samples
    speech_db: float
    noise_db: float
    snr_db: float
    overlong: bool = False
    lead: int = 0


_NOTHING: Samples = np.zeros(0, np.int16)
_NOISE_CHUNKS = round(4.0 / CHUNK_S)
_LEVEL_CHUNKS = 3
_STIRRING_CHUNKS = 3
_OTHERS_CHUNKS = round(10.0 / CHUNK_S)
"""How long other voices are remembered."""

_BEFORE_NEARER_S = 0.25

_FULL_DB = 90.3
"""Full scale, in dB of sample value."""

_LOUDEST = 16_000.0
"""No chunk is raised further than to this peak, in units of sample value."""

_FALL_DB = 0.25
"""By how much in each chunk a peak is forgotten: 8 dB in a second.

At 31 dB in a second the room after a loud voice is raised with it: of 229 calls of people in quiet
99 were accepted right, one wrong and 5 cut in two; 102, none and 3 at this, 104, none and 3 where
nothing is raised.
"""

_FLOOR_POWER = 1.0
"""Power of digital silence: one unit of sample value."""


@dataclass(slots=True)
class _Open:
    """The utterance under way."""

    first: int
    chunks: list[Samples]
    last_voiced: int
    before: int
    """Chunks before the first."""
    voiced: int = 0
    power: float = 0.0
    provisional: bool = False
    overlong: bool = False
    loudest: float = 0.0
    surest: float = 0.0
    """How likely a voice its likeliest chunk is."""
    tail: list[float] = field(default_factory=list)
    chances: deque[float] = field(default_factory=lambda: deque(maxlen=_STIRRING_CHUNKS))
    voices: list[float] = field(default_factory=list)
    recent: deque[float] = field(default_factory=lambda: deque(maxlen=_LEVEL_CHUNKS))


class Endpointer:
    """Feed blocks of any size; cuts come out at the same samples whatever the sizes."""

    def __init__(
        self, activity: VoiceActivity | None = None, rule: EndpointRule | None = None
    ) -> None:
        self._activity = activity or best_activity()
        self.rule = rule or rule_for(self._activity)
        self._wait_s = self.rule.final_s
        self._rest: Samples = _NOTHING
        self._index = 0
        self._open: _Open | None = None
        self._before: deque[Samples] = deque(maxlen=max(1, round(self.rule.preroll_s / CHUNK_S)))
        self._noise: deque[float] = deque(maxlen=_NOISE_CHUNKS)
        self._others: deque[tuple[int, float]] = deque(maxlen=_OTHERS_CHUNKS)
        self._last: list[float] = []
        self._peak = 1.0
        self._ended = float("-inf")

    @property
    def noise_db(self) -> float:
        """The noise of the last four seconds without a voice, in dB of sample value."""
        return _decibel(self._noise_power())

    @property
    def speaking(self) -> bool:
        """Tell whether an utterance is under way."""
        return self._open is not None

    def be_patient(self) -> None:
        """Wait longer for the end of the open utterance: what was said is incomplete."""
        self._wait_s = self.rule.patience_s

    def be_quick(self) -> None:
        """Wait less for the end of the open utterance: nothing can follow what was said."""
        self._wait_s = self.rule.quick_s

    @property
    def now_s(self) -> float:
        """The end of the last chunk, in seconds from the first sample that was fed."""
        return self._index * CHUNK_S

    def break_off(self) -> Cut | None:
        """Sound is missing here: the open utterance up to here if it is no knock; then `reset`."""
        now = self._open
        voice = now is not None and now.voiced * CHUNK_S >= self.rule.shortest_s
        cut = self._cut("final", now) if now is not None and voice else None
        self.reset()
        return cut

    def dismiss(self) -> None:
        """The last final cut was not for us: voices like it are others from now on."""
        self._others.extend((self._index, power) for power in self._last)
        self._last = []

    def reset(self) -> None:
        """Drop the open utterance and the sound kept for the next; times run on."""
        self._activity.reset()
        self._open = None
        self._wait_s = self.rule.final_s
        self._before.clear()
        self._index += -(-len(self._rest) // CHUNK)
        self._rest = _NOTHING

    def fresh(self) -> "Endpointer":
        """Another endpointer of the same rule and detector, for a new stream."""
        self._activity.reset()
        return Endpointer(self._activity, self.rule)

    def feed(self, block: Samples) -> Iterator[Cut]:
        """Take the next samples (int16, 16 kHz, one channel); yield what they decide."""
        data = np.concatenate([self._rest, block]) if len(self._rest) else block
        whole = len(data) // CHUNK * CHUNK
        self._rest = data[whole:].copy()
        for begin in range(0, whole, CHUNK):
            yield from self._chunk(data[begin : begin + CHUNK])

    def flush(self) -> Iterator[Cut]:
        """The stream is over: yield the utterance that is still open."""
        if len(self._rest):
            last = np.zeros(CHUNK, np.int16)
            last[: len(self._rest)] = self._rest
            self._rest = _NOTHING
            yield from self._chunk(last)
        if self._open is not None:
            yield from self._close(self._open)

    def _chunk(self, chunk: Samples) -> Iterator[Cut]:
        chunk = chunk.copy()
        index, self._index = self._index, self._index + 1
        chance = self._activity.probability(self._raised(chunk))
        power = float(np.mean(chunk.astype(np.float64) ** 2))
        now = self._open
        if now is None:
            if chance >= self._begins_at(index):
                now = self._open = _Open(index, [*self._before], index, len(self._before))
                self._before.clear()
            else:
                self._noise.append(power)
                self._before.append(chunk)
                return
        yield from self._during(now, index, chunk, chance, power)

    def _raised(self, chunk: Samples) -> Samples:
        """The chunk as the detector is to hear it: louder in a quiet room, see ``rule_for``."""
        if not self._noise or not self.rule.raised_db:
            return chunk
        wanted_db = self.rule.raised_to_db + _FULL_DB - self.noise_db
        gain = _factor(min(max(wanted_db, 0.0), self.rule.raised_db) / 2)
        # What is loud takes a while to be over: raised more and more, a blow that rings out would
        # become a voice.
        peak = float(np.max(np.abs(chunk.astype(np.float64))))
        self._peak = max(1.0, peak, self._peak * _factor(-_FALL_DB / 2))
        return (chunk * max(1.0, min(gain, _LOUDEST / self._peak))).astype(np.int16)

    def _during(
        self, now: _Open, index: int, chunk: Samples, chance: float, power: float
    ) -> Iterator[Cut]:
        now.surest = max(now.surest, chance)
        voiced = chance >= self._goes_on_at(now, index)
        if voiced and not self._is_other(now, power):
            nearer = power > now.loudest * _factor(self.rule.nearer_db)
            if nearer and now.voiced * CHUNK_S > _BEFORE_NEARER_S:
                now = yield from self._anew(now, index)
            yield from self._voiced(now, index, chunk, power)
            return
        if not now.overlong:
            now.chunks.append(chunk)
        now.tail.append(power)
        silent = (index - now.last_voiced) * CHUNK_S
        if silent >= self.rule.provisional_s and not now.provisional:
            if now.voiced * CHUNK_S < self.rule.shortest_s:
                self._abandon(now, chunk)
                return
            now.provisional = True
            if not now.overlong:
                yield self._cut("provisional", now)
        now.chances.append(chance)
        stirs = max(now.chances) >= self.rule.stirring
        if silent >= self._wait_s + (self.rule.stirring_s if stirs else 0.0):
            yield from self._close(now)

    def _begins_at(self, index: int) -> float:
        """How likely a voice must be to begin an utterance here."""
        quiet_s = (index - self._ended) * CHUNK_S
        return self.rule.faint_on if quiet_s > self.rule.faint_after_s else self.rule.on

    def _goes_on_at(self, now: _Open, index: int) -> float:
        """How likely a voice must be to go on, or after a pause to go on again."""
        rule, share = self.rule, min(1.0, now.surest / self.rule.sure)
        if index == now.last_voiced + 1:
            return max(rule.faint_off, rule.off * share)
        return max(rule.faint_on, rule.on * share)

    def _is_other(self, now: _Open, power: float) -> bool:
        """Tell whether this is the voice of somebody further away, behind the near one."""
        while self._others and self._index - self._others[0][0] > _OTHERS_CHUNKS:
            self._others.popleft()
        if not self._others:
            return False
        usual = float(np.percentile([level for _, level in self._others], 90))
        near = now.loudest > usual * _factor(self.rule.nearer_db)
        return near and power < usual * _factor(self.rule.others_db)

    def _voiced(self, now: _Open, index: int, chunk: Samples, power: float) -> Iterator[Cut]:
        if not now.overlong:
            now.chunks.append(chunk)
        now.last_voiced = index
        now.voiced += 1
        now.power += power
        now.tail.clear()
        now.chances.clear()
        now.voices.append(power)
        now.recent.append(power)
        now.loudest = max(now.loudest, sum(now.recent) / _LEVEL_CHUNKS)
        if now.provisional:
            now.provisional, self._wait_s = False, self.rule.final_s
            yield self._cut("resumed", now)
        if (index - now.first + 1) * CHUNK_S > self.rule.longest_s and not now.overlong:
            now.overlong = True
            now.chunks = []

    def _anew(self, now: _Open, index: int) -> Generator[Cut, None, _Open]:
        """Somebody much nearer speaks: what was before is another utterance, or noise."""
        kept = now.chunks[-(self._before.maxlen or 1) :]
        self._others.extend((index, power) for power in now.voices)
        if now.provisional:
            yield from self._close(now)
        self._before.clear()
        self._open = _Open(index, kept, index, len(kept))
        return self._open

    def _abandon(self, now: _Open, chunk: Samples) -> None:
        self._before.extend(now.chunks or [chunk])
        self._open = None

    def _close(self, now: _Open) -> Iterator[Cut]:
        self._open = None
        self._ended = self._index
        self._wait_s = self.rule.final_s
        self._noise.extend(now.tail)
        keep = self._before.maxlen or 1
        silent = now.chunks[-min(keep, len(now.tail)) :] if now.tail else []
        self._before.extend(silent)
        self._last = now.voices
        if now.voiced * CHUNK_S >= self.rule.shortest_s:
            yield self._cut("final", now)

    def _cut(self, state: Literal["provisional", "final", "resumed"], now: _Open) -> Cut:
        noise = self._noise_power() if self._noise else float(np.median(now.tail or [1.0]))
        speech = now.power / max(1, now.voiced)
        ratio = max(speech - noise, 1e-3 * speech, 1e-9) / max(noise, _FLOOR_POWER)
        # Up to the provisional end, so that a provisional and a final cut are the same sound.
        trailing = max(0, len(now.tail) - self.rule.trailing_chunks)
        chunks = now.chunks[: len(now.chunks) - trailing]
        return Cut(
            state=state,
            start_s=now.first * CHUNK_S,
            end_s=(now.last_voiced + 1) * CHUNK_S,
            samples=np.concatenate(chunks) if chunks else _NOTHING,
            speech_db=_decibel(speech),
            noise_db=_decibel(noise),
            snr_db=min(60.0, 10 * float(np.log10(ratio))),
            overlong=now.overlong,
            lead=now.before * CHUNK,
        )

    def _noise_power(self) -> float:
        return float(np.median(self._noise)) if self._noise else _FLOOR_POWER


def _factor(decibels: float) -> float:
    return float(10 ** (decibels / 10))


def _decibel(power: float) -> float:
    return 10 * float(np.log10(max(power, _FLOOR_POWER)))
