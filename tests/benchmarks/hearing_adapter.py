"""Fits the adapter of the ears: ``python -m tests.benchmarks.hearing_adapter FOLDER ...``.

Every recording of the folders (see ``hearing_clips``) is spoilt a few times over, in rooms, noise
and a telephone's band drawn for it, and the encoder hears both: people's, and ``hearing_voices
FOLDER --voices fit --seed 7``, since people say few words and the map would learn those. None of
the rooms is that of the benchmark, none of the people those whom the benchmark hears alone with
``--kept-out``. What is printed was had by voices that did not take part in the fit, a fifth of them
at a time: how far a spoilt sound's vectors are from the clean one's, without and with the adapter,
and how many sounds are taken for spoilt. ``--write`` puts the fit of all where the recogniser reads
it, ``--folds FILE`` keeps the others for ``hearing_fit``.
"""

import argparse
import pickle
import sys
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from assistant.devices.ears.neural import adapter
from assistant.devices.ears.neural.adapter import Adapter, summary, surroundings
from assistant.devices.ears.neural.model_files import read_model_files
from assistant.devices.ears.neural.neural_ears import AFTER, BEFORE
from assistant.devices.ears.neural.transducer import Encoded, Transducer
from assistant.devices.sound.files import RATE, Samples
from assistant.simulation.noise import NoiseKind, Signal, mix, noise, to_int16
from tests.benchmarks.fallback_fit import logistic
from tests.benchmarks.hearing_clips import FOLDS, Clip, clips_of, fold_of, is_kept_out
from tests.benchmarks.hearing_conditions import telephone_band
from tests.benchmarks.hearing_rooms import Place, response_at, through

Sort = Literal["room", "band", "noise", "level", "clean"]
SHARES: dict[Sort, float] = {"room": 0.5, "band": 0.2, "noise": 0.2, "level": 0.1}
"""What is done to recordings, and to how many of them. At another level, or with its peaks cut, a
sound is not spoilt: the encoder does not mind either."""

OF_EACH = 4
ROOMS = 150
NOISES: tuple[NoiseKind, ...] = ("fan", "motor", "air", "white", "babble", "taps")
LEVEL_DB = (-15.0, 6.0)

AROUND_S = 0.5
"""Quiet round a recording of which it is not known where its voice is."""

EARLIER_S, LATER_S = 0.1, (0.05, 0.5)
"""How much earlier or later than usual a sound is cut: reverberation makes it end later."""

STIFFNESS = 0.0024
"""Of the ridge, for each frame: the vectors' mean square is 0.08."""

SPOILT_STIFFNESS = 30.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pair:
    """A sound as the encoder heard it, and the clean one it is made of, frame by frame."""

    voice: str
    sort: Sort
    heard: npt.NDArray[np.float32]
    clean: npt.NDArray[np.float32]


def drawn_room(chance: np.random.Generator) -> Signal:
    """From a mouth to a microphone somewhere in a room of some size."""
    while True:
        size = chance.uniform((3.0, 2.8, 2.4), (9.0, 7.0, 4.0))
        mouth = chance.uniform((0.6, 0.6, 1.2), (size[0] - 0.6, size[1] - 0.6, 1.8))
        way = chance.standard_normal(3) * (1.0, 1.0, 0.3)
        microphone = mouth + chance.uniform(0.3, 2.2) * way / np.linalg.norm(way)
        if np.all(microphone > 0.2) and np.all(microphone < size - 0.2):
            points = (tuple(each.tolist()) for each in (size, mouth, microphone))
            try:
                return response_at(Place(*points), chance.uniform(0.25, 1.0))
            except ValueError:
                # A hall cannot be that dry: another one.
                continue


def spoilt(
    sound: Signal, sort: Sort, chance: np.random.Generator, rooms: Sequence[Signal],
    talkers: Sequence[Signal],
) -> Samples:  # fmt: skip
    """A recording as it may come in, at some level."""
    if sort == "room":
        sound = through(sound, rooms[int(chance.integers(len(rooms)))])
        if chance.random() < 0.4:
            sound = _noisy(sound, (10.0, 28.0), chance, talkers)
    elif sort == "band":
        sound = telephone_band(sound)
        if chance.random() < 0.3:
            sound = telephone_band(_noisy(sound, (12.0, 28.0), chance, talkers))
    elif sort == "noise":
        sound = _noisy(sound, (4.0, 22.0), chance, talkers)
    elif sort == "level":
        peak = float(np.max(np.abs(sound))) * 10 ** (-chance.uniform(0.0, 9.0) / 20)
        sound = np.clip(sound, -peak, peak)
    return to_int16(sound * 10 ** (chance.uniform(*LEVEL_DB) / 20))


def _noisy(
    sound: Signal, ratio_db: tuple[float, float], chance: np.random.Generator,
    talkers: Sequence[Signal],
) -> Signal:  # fmt: skip
    kind = NOISES[int(chance.integers(len(NOISES)))]
    return mix(sound, noise(kind, len(sound), chance, talkers), chance.uniform(*ratio_db))


def pairs_of(clips: Sequence[Clip], model: Transducer, of_each: int = OF_EACH) -> Iterator[Pair]:
    """Every clip as it comes in, so many times, and beside each the clean one."""
    chance = np.random.default_rng(1)
    rooms = [drawn_room(chance) for _ in range(ROOMS)]
    talkers = [clip.sound for clip in clips if clip.is_talk and clip.said][:60]
    sorts = list(SHARES)
    for clip in clips:
        chance = np.random.default_rng(list(bytes.fromhex(clip.name)))
        for _ in range(of_each):
            sort = sorts[int(chance.choice(len(sorts), p=list(SHARES.values())))]
            cut = _cut(clip, chance)
            heard = _vectors(model, spoilt(clip.sound, sort, chance, rooms, talkers)[cut])
            yield Pair(clip.voice, sort, heard, _vectors(model, to_int16(clip.sound)[cut]))
        clean = _vectors(model, to_int16(clip.sound)[_cut(clip, chance)])
        yield Pair(clip.voice, "clean", clean, clean)


def _cut(clip: Clip, chance: np.random.Generator) -> slice:
    """About what the endpointer would cut out of it."""
    start = AROUND_S if clip.start_s is None else clip.start_s
    end = len(clip.sound) / RATE - AROUND_S if clip.end_s is None else clip.end_s
    begin = round((start + chance.uniform(-EARLIER_S, EARLIER_S)) * RATE) - BEFORE
    return slice(max(0, begin), round((end + chance.uniform(*LATER_S)) * RATE))


def _vectors(model: Transducer, samples: Samples) -> npt.NDArray[np.float32]:
    sound = np.concatenate([samples / 32768, np.zeros(AFTER)]).astype(np.float32)
    found: npt.NDArray[np.float32] = model.encode(sound).vectors[0]
    return found


class Sums:
    """What a least squares fit needs to know of its pairs."""

    def __init__(self, given: int, wanted: int) -> None:
        self.frames = 0
        self.square: Floats = np.zeros((given, given))
        self.cross: Floats = np.zeros((given, wanted))

    def take(self, pair: Pair) -> None:
        """Count one pair."""
        given = surroundings(pair.heard)
        self.frames += len(given)
        # In place: these are a million numbers, and there are ten thousand pairs.
        self.square += given.T @ given
        self.cross += given.T @ (pair.clean - pair.heard)


def fitted_map(sums: Sequence[Sums]) -> npt.NDArray[np.float32]:
    """What a frame lacks, by ridge regression on its surroundings."""
    frames = sum(each.frames for each in sums)
    square = np.sum([each.square for each in sums], axis=0)
    ridge = STIFFNESS * frames * np.eye(len(square))
    found = np.linalg.solve(square + ridge, np.sum([each.cross for each in sums], axis=0))
    # As it is kept, and therefore as it is judged.
    return found.astype(np.float16).astype(np.float32)


def fitted_spoilt(pairs: Sequence[Pair]) -> npt.NDArray[np.float32]:
    """What tells the spoilt from the clean."""
    table = np.array([summary(pair.heard) for pair in pairs], np.float64)
    truth = np.array([pair.sort not in ("level", "clean") for pair in pairs], float)
    return logistic(table, truth, SPOILT_STIFFNESS).astype(np.float32)


def fitted(pairs: Sequence[Pair], sums: dict[int, Sums], but: int | None = None) -> Adapter:
    """The adapter of all voices, or of all but those of a fold."""
    return Adapter(
        fitted_map([each for fold, each in sums.items() if fold != but]),
        fitted_spoilt([pair for pair in pairs if fold_of(pair.voice) != but]),
    )


def table(pairs: Sequence[Pair], sums: dict[int, Sums]) -> Iterator[str]:
    """Lines: by what was done, the mean square distance before and after, and taken for spoilt."""
    found = defaultdict[Sort, list[tuple[float, float, bool]]](list)
    for fold in range(FOLDS):
        theirs = [pair for pair in pairs if fold_of(pair.voice) == fold]
        if not theirs:
            continue
        others = fitted(pairs, sums, fold)
        for pair in theirs:
            heard = Encoded(pair.heard[None], 0)
            after = others.adapted(heard).vectors[0]
            apart = [float(np.mean((each - pair.clean) ** 2)) for each in (pair.heard, after)]
            found[pair.sort].append((apart[0], apart[1], others.is_spoilt(heard)))
    yield f"{'sounds':8}{'of them':>8}{'apart':>8}{'adapted':>9}{'taken for spoilt, %':>21}"
    for sort in get_args(Sort):
        if rows := found[sort]:
            before, after, taken = np.mean(np.array(rows, float), axis=0)
            yield f"{sort:8}{len(rows):8}{before:8.4f}{after:9.4f}{100 * taken:21.1f}"


def read_adapters(kept: Path | None) -> dict[int, Adapter]:
    """Of each fold the adapter that none of its voices took part in, as ``--folds`` kept it."""
    found: dict[int, Adapter] = pickle.loads(kept.read_bytes()) if kept else {}
    return found


def main(argv: Sequence[str] | None = None) -> int:
    """The command line."""
    parser = argparse.ArgumentParser(prog="hearing_adapter", description="Fit the adapter.")
    parser.add_argument("folders", nargs="+", type=Path, metavar="FOLDER")
    parser.add_argument("--write", action="store_true", help="keep it where it is read")
    parser.add_argument("--folds", type=Path, metavar="FILE", help="keep those of all but a fold")
    given = parser.parse_args(argv)
    clips = [c for folder in given.folders for c in clips_of(folder) if not is_kept_out(c)]
    pairs: list[Pair] = []
    sums: dict[int, Sums] = {}
    for pair in pairs_of(clips, Transducer(read_model_files(None))):
        pairs.append(pair)
        if pair.sort == "clean":
            continue
        fold = fold_of(pair.voice)
        if fold not in sums:
            wanted = pair.heard.shape[1]
            sums[fold] = Sums(surroundings(pair.heard).shape[1], wanted)
        sums[fold].take(pair)
    sys.stdout.writelines(f"{line}\n" for line in table(pairs, sums))
    if given.folds:
        made = {fold: fitted(pairs, sums, fold) for fold in range(FOLDS)}
        given.folds.write_bytes(pickle.dumps(made))
    if given.write:
        kept = Path(adapter.__file__).with_name(adapter.FILE)
        weights = fitted_map(list(sums.values())).astype(np.float16)
        np.savez_compressed(kept, map=weights, spoilt=fitted_spoilt(pairs))
        sys.stdout.write(f"{kept}: {kept.stat().st_size} bytes\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
