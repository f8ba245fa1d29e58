"""Hearing, whatever the recogniser: sound in, utterances out.

The recogniser's protocol, what it returns, and ``Ears``, which joins the endpointer, a
recogniser and the verifier. No engine is imported here.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.endpoint import RATE, Cut, Endpointer
from assistant.dialogue.messages import TURNED_DOWN, Decision, Heard
from grammar.ending import is_over
from grammar.meaning import Hypothesis, Meaning, OffScale, Reading, Unclear
from grammar.offer import Offer

Samples = npt.NDArray[np.int16]

LEARNT_FROM = 0.5
"""How likely right an utterance is, at least, from which its person is learnt.

Those that are asked about are among them: a voice far from the usual would never be learnt
otherwise. A wrong one in a while does not matter, since right ones follow.
"""

SOON_S = 20.0
"""After so long without an utterance it was quiet."""

PART_S, PART_GAP_S = 1.2, 2.5
"""A piece of a call before a pause has no more voice than this; the rest follows within that."""

FRAME = RATE // 50
"""Samples of one level reading, 20 ms."""


@dataclass(frozen=True, slots=True)
class Limits:
    """How sure a recogniser must be, by its own measure, 0 to 1.

    ``ours``, ``right``: both are needed to accept. ``ask``: what is less likely ours than this
    is turned down; less than ``call``, it is taken for talk and not answered. ``call`` is half of
    ``ask`` by judgement, not fitted.
    """

    ours: float = 0.94
    right: float = 0.82
    ask: float = 0.1
    call: float = 0.05


@dataclass(frozen=True, slots=True)
class Decoded:
    """What a recogniser makes of one utterance.

    ``hypotheses``: best first, all of them complete sentences of the offer; empty when
    there is none. ``words``: the raw words, for showing. ``ours``: 0 to 1, how likely it is
    that these sounds are a sentence of the offer at all rather than talk or noise. The
    hypotheses' confidences, 0 to 1, say how likely each is if it is ours. ``told``: what it
    tells the recogniser of its person, who alone can read it. ``limits``: what these figures
    must reach. ``unfinished``: more may follow after a pause.
    """

    hypotheses: tuple[Hypothesis, ...]
    words: str
    ours: float
    told: object = field(default=None, compare=False)
    limits: Limits = Limits()
    unfinished: bool = False


class Recogniser(Protocol):
    """An engine: armed with an offer, it decodes whole utterances."""

    name: str

    def arm(self, offer: Offer) -> None:
        """Listen for this offer from the next utterance on; cheap when seen before."""

    def decode(self, samples: Samples, lead: int = 0) -> Decoded:
        """Decode one utterance, int16 at 16 kHz with some of the noise around it.

        ``lead``: samples before the voice begins, 0 if that is not known.
        """

    def learn(self, decoded: Decoded) -> None:
        """This is likely what its person said, and the next ones are likely the same person's."""

    def confirm(self, decoded: Decoded) -> None:
        """This is what its person said: taken, said again, or affirmed."""

    def unlearn(self, decoded: Decoded) -> None:
        """This is not what its person said: it counts as if it had not been heard."""

    def forget(self) -> None:
        """Nothing that was learnt here holds for the next utterance."""


class Verifier(Protocol):
    """Decides what is done with a decoded utterance."""

    def __call__(self, decoded: Decoded, cut: Cut) -> Decision:
        """Accept, ask, reject or leave as talk."""


@dataclass(frozen=True, slots=True)
class Utterance:
    """One utterance, heard and judged.

    ``start_s``, ``end_s``: of the voice, in seconds of the stream. ``alternatives``: what
    else it may have been, most likely first, without the winner. ``confidence``: 0 to 1,
    that it is ours and means ``meaning``. ``decode_s``: time the recogniser took.
    ``snr_db``: speech to noise, full band, by mean powers of voiced and unvoiced sound.
    ``after_quiet``: nothing was heard for a while before it.
    ``samples``: the sound that was decoded, with some quiet around it. ``decoded``: what the
    recogniser made of it.
    """

    start_s: float
    end_s: float
    outcome: Decision
    words: str
    meaning: Meaning
    confidence: float
    decode_s: float
    alternatives: tuple[Hypothesis, ...]
    snr_db: float
    after_quiet: bool = False
    samples: Samples = field(default_factory=lambda: np.zeros(0, np.int16), compare=False)
    decoded: Decoded = field(default=Decoded((), "", 0.0), compare=False)


def heard_event(utterance: Utterance, at: str, turn: int) -> Heard:
    """An utterance as the dialogue takes it; ``turn``: what was listening when it began.

    Of other people's talk no word goes on: nobody asked them whether it may be kept.
    """
    if utterance.outcome == "talk":
        quiet = utterance.after_quiet
        return Heard(at, turn, "voice", "talk", "", Unclear(""), 0.0, after_quiet=quiet)
    return Heard(
        at,
        turn,
        "voice",
        utterance.outcome,
        utterance.words,
        utterance.meaning,
        utterance.confidence,
        utterance.alternatives,
        utterance.after_quiet,
    )


class Ears:
    """Feed blocks, take utterances. One thread only. Whoever speaks is not known at first.

    Decoding runs inside ``feed`` as soon as a provisional end is seen, so that the answer is
    ready when the person is known to have stopped. When what was said so far is incomplete,
    the endpointer is told to wait longer; when it is accepted and nothing can follow it, less.
    """

    def __init__(
        self,
        recogniser: Recogniser,
        verify: Verifier,
        endpointer: Endpointer | None = None,
        clock: Callable[[], float] = time.perf_counter,
    ) -> None:
        self.recogniser = recogniser
        self.endpointer = endpointer or Endpointer()
        self._verify = verify
        self._clock = clock
        self._ready: Utterance | None = None
        self._part: Cut | None = None
        """What was turned down or asked just before: this call may have begun with it."""
        self._broken: _Broken | None = None
        self._offer: Offer | None = None
        self._heard_until = 0.0
        recogniser.forget()

    def arm(self, offer: Offer) -> None:
        """Listen for this from the next decoding on."""
        self.recogniser.arm(offer)
        self._offer = offer
        self._ready = None

    def feed(self, block: Samples) -> list[Utterance]:
        """Take the next samples (int16, 16 kHz, one channel) and say what ended in them."""
        found = [heard for cut in self.endpointer.feed(block) if (heard := self._on(cut))]
        broken = self._broken
        if broken is None or self.endpointer.speaking or self.endpointer.now_s < broken.until_s:
            return found
        return [*found, self._not_understood(broken.cut, broken.outcome)]

    def flush(self) -> list[Utterance]:
        """The stream is over: what was still open."""
        return [heard for cut in self.endpointer.flush() if (heard := self._on(cut))]

    @property
    def speaking(self) -> bool:
        """Whether a call is under way, or the rest of one in which sound was missing awaited."""
        return self.endpointer.speaking or self._broken is not None

    def whole(self, samples: Samples, *, broken: bool = False) -> Utterance:
        """Take these samples as one utterance, wherever the voice in them is.

        For a talk key: the person says where it begins and ends. The levels are those of the
        loudest and the quietest frames. ``broken``: sound is missing in it.
        """
        frames = samples[: len(samples) // FRAME * FRAME].astype(np.float64).reshape(-1, FRAME)
        power = np.mean(frames**2, axis=1) + 1.0 if len(frames) else np.ones(1)
        quiet, loud = (10 * float(np.log10(np.percentile(power, p))) for p in (10, 95))
        length_s = len(samples) / RATE
        snr_db = max(0.0, loud - quiet)
        cut = Cut("final", 0.0, length_s, samples, loud, quiet, snr_db)
        if broken:
            return self._not_understood(cut, "reject")
        heard = self._decode(cut)
        # Whoever presses a key to talk does not talk to somebody else.
        return self._known(replace(heard, outcome="reject") if heard.outcome == "talk" else heard)

    def discard(self) -> None:
        """Drop the open utterance, for instance because the voice begins to speak."""
        self.endpointer.reset()
        self._ready = self._part = self._broken = None

    def break_off(self) -> None:
        """Sound is missing here. What was open and what goes on from it is a call not understood.

        That comes as one utterance when it is over: neither piece means what was said.
        """
        cut, broken = self.endpointer.break_off(), self._broken
        self._ready = self._part = None
        if cut is not None:
            until_s = self.endpointer.now_s + self.endpointer.rule.patience_s
            self._broken = _Broken(cut, _unclear(self._decode(cut), broken), until_s)

    def start_over(self) -> None:
        """A new stream begins: forget the old one and its person, count times from zero."""
        self.recogniser.forget()
        self.endpointer = self.endpointer.fresh()
        self._ready = self._part = self._broken = None
        self._heard_until = 0.0

    def _on(self, cut: Cut) -> Utterance | None:
        match cut.state:
            case "resumed":
                self._ready = None
                return None
            case "provisional":
                self._ready = self._decode(cut)
                if self._ready.decoded.unfinished or isinstance(self._ready.meaning, Unclear):
                    self.endpointer.be_patient()
                elif self._is_over(self._ready):
                    self.endpointer.be_quick()
                return None
            case "final":
                ready, self._ready = self._ready, None
                heard = self._decode(cut) if ready is None or cut.overlong else ready
                if self._broken is not None:
                    return self._not_understood(cut, _unclear(heard, self._broken))
                if heard.outcome in TURNED_DOWN:
                    self.endpointer.dismiss()
                self._part = cut if _may_be_part(cut, heard) else None
                return self._known(heard)

    def _not_understood(self, cut: Cut, outcome: Decision) -> Utterance:
        """The end of a call in which sound was missing; of talk that is long it was none."""
        self._broken = None
        made = "talk" if cut.overlong else outcome
        return self._known(self._utterance(cut, Decoded((), "", 0.0), made, 0.0))

    def _known(self, heard: Utterance) -> Utterance:
        """An utterance that is over: its person is known better from now on."""
        heard = replace(heard, after_quiet=heard.start_s - self._heard_until > SOON_S)
        self._heard_until = heard.end_s
        if heard.outcome not in TURNED_DOWN and heard.confidence >= LEARNT_FROM:
            self.recogniser.learn(heard.decoded)
        return heard

    def _is_over(self, heard: Utterance) -> bool:
        """Whether it is taken as it is, and nothing that is listened for begins with it."""
        offer = self._offer
        return heard.outcome == "accept" and offer is not None and is_over(heard.words, offer)

    def _decode(self, cut: Cut) -> Utterance:
        if cut.overlong:
            return self._utterance(cut, Decoded((), "", 0.0), "talk", 0.0)
        began = self._clock()
        decoded = self.recogniser.decode(cut.samples, cut.lead)
        outcome = self._verify(decoded, cut)
        if outcome == "accept" and self._lacks_station(decoded.hypotheses[0].meaning, cut):
            decoded, outcome = self._with_part(decoded, cut)
        took = self._clock() - began
        return self._utterance(cut, decoded, outcome, took)

    def _lacks_station(self, meaning: Meaning, cut: Cut) -> bool:
        """Whether what was turned down just before may have been this reading's station."""
        if not isinstance(meaning, Reading) or meaning.station is not None:
            return False
        if self._part is None or self._offer is None or not self._offer.stations:
            return False
        return 0.0 <= cut.start_s - self._part.end_s <= PART_GAP_S

    def _with_part(self, decoded: Decoded, cut: Cut) -> tuple[Decoded, Decision]:
        """Both pieces as one; where they make no call together, the later one is asked."""
        assert self._part is not None
        sound = np.concatenate([self._part.samples, cut.samples])
        both = self.recogniser.decode(sound, self._part.lead)
        outcome = self._verify(both, cut)
        if outcome not in TURNED_DOWN and _names_station(both, decoded):
            return both, outcome
        return decoded, "ask"

    def _utterance(self, cut: Cut, decoded: Decoded, outcome: Decision, took: float) -> Utterance:
        first = decoded.hypotheses[0] if decoded.hypotheses else None
        if first and isinstance(first.meaning, OffScale) and decoded.ours < decoded.limits.ask:
            # Numbers in other people's talk are not off this dial.
            first = None
        return Utterance(
            start_s=cut.start_s,
            end_s=cut.end_s,
            outcome=outcome,
            words=first.words if first else decoded.words,
            meaning=first.meaning if first else Unclear(decoded.words),
            confidence=decoded.ours * first.confidence if first else 0.0,
            decode_s=took,
            alternatives=decoded.hypotheses[1:],
            snr_db=cut.snr_db,
            samples=cut.samples,
            decoded=decoded,
        )


@dataclass(frozen=True, slots=True)
class _Broken:
    """The last piece of a call in which sound is missing, and until when another may follow."""

    cut: Cut
    outcome: Decision
    until_s: float


def _unclear(heard: Utterance, before: _Broken | None) -> Decision:
    """Of a piece of a broken call and the one before: talk where neither is like a call to us."""
    talk = heard.outcome == "talk" and (before is None or before.outcome == "talk")
    return "talk" if talk else "reject"


def _may_be_part(cut: Cut, heard: Utterance) -> bool:
    """Whether this is short and nothing came of it, or it is a number that may go on."""
    nothing = heard.outcome in TURNED_DOWN and not isinstance(heard.meaning, OffScale)
    number = heard.outcome == "ask" and isinstance(heard.meaning, Reading)
    short = cut.end_s - cut.start_s <= PART_S
    return not cut.overlong and (number or (nothing and short))


def _names_station(whole: Decoded, later: Decoded) -> bool:
    """Whether the whole is the same number as its later piece, and at a station."""
    one, other = whole.hypotheses[0].meaning, later.hypotheses[0].meaning
    if not isinstance(one, Reading) or not isinstance(other, Reading):
        return False
    return one.station is not None and (one.value, one.signed) == (other.value, other.signed)
