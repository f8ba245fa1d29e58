"""Reading an acoustic model of PocketSphinx: 5,126 states shared by 137,000 triphones.

Only its file formats and what stands in them. The format is that of the semi-continuous
models with one codebook for each phone ("ptm"): 42 codebooks of 128 Gaussians in three
streams, and for every tied state the weights of its phone's Gaussians.
"""

import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]

STREAMS = 3
INTERNAL, BEGIN, END, SINGLE = range(4)
"""Places of a phone in its word, as numbered in the files."""

_LOG_STEP = float(np.log(1.0001)) * 1024
"""Mixture weights are stored as negative logarithms in steps of this size."""


class ModelFileError(Exception):
    """The acoustic model cannot be read; the text says what to do."""


@dataclass(frozen=True, slots=True)
class AcousticModel:
    """An acoustic model, read only.

    ``phones``: names, with "SIL" and the noises. ``states``: tied states of each state
    sequence (n, 3). ``sequence``, ``transition``: for each phone or triphone. ``codebook``:
    of each tied state. ``gaussians[stream]``: (26, 42 * 128) factors of [x*x, x];
    ``constants[stream]``: (42 * 128). ``mixtures``: (stream, 128, tied state) weights.
    ``moves``: log probabilities (transition, from state, to state or out).
    """

    phones: tuple[str, ...]
    number: dict[str, int]
    states: Ints
    sequence: Ints
    transition: Ints
    codebook: Ints
    gaussians: tuple[Floats, ...]
    constants: tuple[Floats, ...]
    mixtures: Floats
    moves: Floats
    triphone_keys: Ints
    triphone_index: Ints

    @property
    def silence(self) -> int:
        """The number of the silence phone."""
        return self.number["SIL"]

    def triphone(self, phone: int, left: int, right: int, place: int) -> int:
        """The triphone between these neighbours, or the nearest thing to it."""
        for where in (place, INTERNAL, BEGIN, END, SINGLE):
            key = _key(where, phone, left, right, len(self.phones))
            at = int(np.searchsorted(self.triphone_keys, key))
            if at < len(self.triphone_keys) and self.triphone_keys[at] == key:
                return int(self.triphone_index[at])
        return phone


def _key(place: int, phone: int, left: int, right: int, count: int) -> int:
    return ((place * count + phone) * count + left) * count + right


def read_model(folder: str | Path) -> AcousticModel:
    """The model in this folder; ``ModelFileError`` when it is not one that is known."""
    folder = Path(folder)
    try:
        return _read(folder)
    except (OSError, ValueError, struct.error, IndexError) as error:
        raise ModelFileError(
            f"the acoustic model in {folder} cannot be read ({error}); "
            "install the package pocketsphinx again"
        ) from error


def _read(folder: Path) -> AcousticModel:
    data = (folder / "mdef").read_bytes()
    if data[:4] != b"BMDF":
        raise ValueError("mdef is not in the binary format")
    at = 12 + struct.unpack_from("<i", data, 8)[0]
    header = struct.unpack_from("<10i", data, at)
    n_phones, n_all, n_emit, _, n_states, _, n_sequences, _, n_tree, _ = header
    if n_emit != 3:
        raise ValueError(f"{n_emit} states for each phone instead of 3")
    at = names_at = at + 40
    names = []
    for _ in range(n_phones):
        end = data.index(0, at)
        names.append(data[at:end].decode("ascii"))
        at = end + 1
    at = names_at + (at - names_at + 3) // 4 * 4 + 8 * n_tree
    row = np.dtype([("sequence", "<i4"), ("transition", "<i4"), ("context", "u1", 4)])
    rows = np.frombuffer(data, row, n_all, at)
    at += row.itemsize * n_all + 4
    states = np.frombuffer(data, "<u2", n_sequences * 3, at).reshape(-1, 3).astype(np.int64)
    context = rows["context"][n_phones:].astype(np.int64)
    keys = ((context[:, 0] * n_phones + context[:, 1]) * n_phones + context[:, 2]) * n_phones
    keys += context[:, 3]
    order = np.argsort(keys)
    codebook = np.zeros(n_states, np.int64)
    centre = np.concatenate([np.arange(n_phones), context[:, 1]])
    for state in range(3):
        codebook[states[rows["sequence"], state]] = centre
    gaussians, constants = _gaussians(folder, n_phones)
    return AcousticModel(
        phones=tuple(names),
        number={name: index for index, name in enumerate(names)},
        states=states,
        sequence=rows["sequence"].astype(np.int64),
        transition=rows["transition"].astype(np.int64),
        codebook=codebook,
        gaussians=gaussians,
        constants=constants,
        mixtures=_mixtures(folder, n_states),
        moves=_moves(folder),
        triphone_keys=keys[order],
        triphone_index=order + n_phones,
    )


def _body(path: Path) -> tuple[bytes, int]:
    data = path.read_bytes()
    at = data.index(b"endhdr\n") + 7
    if struct.unpack_from("<I", data, at)[0] != 0x11223344:
        raise ValueError(f"{path.name} has another byte order")
    return data, at + 4


def _values(path: Path) -> npt.NDArray[np.float64]:
    data, at = _body(path)
    books, streams, densities = struct.unpack_from("<3i", data, at)
    lengths = struct.unpack_from(f"<{streams}i", data, at + 12)
    at += 12 + 4 * streams
    total = struct.unpack_from("<i", data, at)[0]
    if streams != STREAMS or len(set(lengths)) != 1:
        raise ValueError(f"{path.name} has streams of {lengths} values")
    flat = np.frombuffer(data, "<f4", total, at + 4).astype(np.float64)
    return flat.reshape(books, streams, densities, lengths[0])


def _gaussians(folder: Path, books: int) -> tuple[tuple[Floats, ...], tuple[Floats, ...]]:
    means, variances = _values(folder / "means"), _values(folder / "variances")
    if len(means) != books or means.shape != variances.shape:
        raise ValueError(f"{len(means)} codebooks for {books} phones")
    inverse = 1 / np.maximum(variances, 1e-4)
    factors = np.concatenate([-0.5 * inverse, means * inverse], axis=3)
    offset = -0.5 * ((means**2 * inverse).sum(3) - np.log(inverse / (2 * np.pi)).sum(3))
    parts = [factors[:, stream].reshape(-1, factors.shape[3]).T for stream in range(STREAMS)]
    return (
        tuple(np.ascontiguousarray(part.astype(np.float32)) for part in parts),
        tuple(offset[:, stream].ravel().astype(np.float32) for stream in range(STREAMS)),
    )


def _moves(folder: Path) -> Floats:
    data, at = _body(folder / "transition_matrices")
    count, sources, targets, total = struct.unpack_from("<4i", data, at)
    if (sources, targets) != (3, 4):
        raise ValueError("transition_matrices are not 3 by 4")
    moves = np.frombuffer(data, "<f4", total, at + 16).reshape(count, 3, 4)
    moves = moves / moves.sum(axis=2, keepdims=True)
    logs: Floats = np.log(np.maximum(moves, 1e-10)).astype(np.float32)
    return logs


def _mixtures(folder: Path, n_states: int) -> Floats:
    data = (folder / "sendump").read_bytes()
    size = STREAMS * 128 * n_states
    if len(data) <= size:
        raise ValueError("sendump is too short")
    steps = np.frombuffer(data, "u1", size, len(data) - size).reshape(STREAMS, 128, n_states)
    weights: Floats = np.exp(-_LOG_STEP * steps.astype(np.float32))
    return weights
