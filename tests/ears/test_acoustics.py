"""The search agrees with PocketSphinx where both do the same, and with brute force."""

import itertools
import struct
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pocketsphinx
import pytest

from assistant.devices.ears.fallback.acoustics.evidence import sentence, shipped_prior
from assistant.devices.ears.fallback.acoustics.features import (
    centre_and_swing,
    cepstra,
    clean_speech,
    library_noise_removal,
    mel_filters,
    normalised,
    power_spectrum,
    streams,
)
from assistant.devices.ears.fallback.acoustics.model_files import (
    AcousticModel,
    ModelFileError,
    read_model,
)
from assistant.devices.ears.fallback.acoustics.scores import CLAMP, Scorer, densities, gaussians
from assistant.devices.ears.fallback.acoustics.search import (
    backward,
    best_endings,
    best_path,
    forward,
    path_through,
    through_heads,
)
from assistant.devices.ears.fallback.acoustics.state_graph import NEVER, StateGraph, state_graph
from assistant.devices.ears.fallback.acoustics.word_graph import WordGraph, word_graph
from assistant.devices.ears.fallback.pocketsphinx_library import model_folder
from grammar.offer import Offer, everything
from grammar.scale import Scale
from grammar.sentences import Alt, Opt, Seq, sentences
from tests.ears.sounds import Samples, clip, noisy
from tests.grammar.languages import acceptor


@pytest.fixture(scope="module")
def model() -> AcousticModel:
    return read_model(model_folder())


def library_output(folder: Path, samples: Samples) -> tuple[npt.NDArray[np.float32], bytes]:
    """PocketSphinx's own cepstra and scores of all tied states for these samples."""
    decoder = pocketsphinx.Decoder(
        hmm=model_folder(), dict=pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"),
        lm=None, loglevel="FATAL", bestpath=False, compallsen=True,
        mfclogdir=str(folder), senlogdir=str(folder),
    )  # fmt: skip
    decoder.add_jsgf_string("g", "#JSGF V1.0;\ngrammar g;\npublic <g> = right plus one;\n")
    decoder.activate_search("g")
    decoder.start_utt()
    decoder.process_raw(samples.tobytes(), full_utt=True)
    decoder.end_utt()
    logged = (folder / "000000000.mfc").read_bytes()
    count = struct.unpack_from(">i", logged)[0]
    return (
        np.frombuffer(logged, ">f4", count, 4).reshape(-1, 13),
        (folder / "000000000.sen").read_bytes(),
    )


@pytest.mark.parametrize("snr_db", [None, 10.0])
def test_the_plain_chain_gives_the_numbers_of_the_library(
    tmp_path: Path, model: AcousticModel, snr_db: float | None
) -> None:
    """Checked against PocketSphinx itself: cepstra, and the scores of 5,126 tied states."""
    sound = clip("right plus one")
    sound = sound if snr_db is None else noisy(sound, snr_db)
    theirs, logged = library_output(tmp_path, sound)
    ours = cepstra(library_noise_removal(power_spectrum(sound) @ mel_filters()))
    frames = min(len(ours), len(theirs))
    assert abs(len(ours) - len(theirs)) <= 1
    assert np.abs(ours[:frames] - theirs[:frames]).max() < 1e-3

    start = logged.index(b"endhdr\n") + 11
    row = 2 + 2 * len(model.codebook)
    count = (len(logged) - start) // row
    scores = np.stack(
        [
            np.frombuffer(logged, "<i2", len(model.codebook), start + index * row + 2)
            for index in range(count)
        ]
    ).astype(float)
    values = theirs.astype(np.float64)
    counted = values[:, 0] >= 0
    plain = streams(values - values[counted].mean(axis=0))
    found = four_best(model, plain)
    relative = (found.max(axis=1, keepdims=True) - found) / 0.1024
    inner = slice(4, count - 4)  # the library has no future at the last frames
    likeness = np.corrcoef(relative[inner].ravel(), scores[inner].ravel())[0, 1]
    assert likeness > 0.998
    # The search takes all 128 Gaussians of a codebook: the same where a state fits at all.
    all_of_them = Scorer(model, np.arange(len(model.codebook)))(gaussians(model, plain))
    fits = scores[inner] < 60
    away = (all_of_them.max(axis=1, keepdims=True) - all_of_them)[inner][fits] / 0.1024 - scores[
        inner
    ][fits]
    assert np.abs(away).mean() < 6


def four_best(
    model: AcousticModel, features: tuple[npt.NDArray[np.float64], ...]
) -> npt.NDArray[np.float64]:
    """Scores made of the four best Gaussians of each codebook, as the library makes them."""
    total = np.zeros((len(features[0]), len(model.codebook)))
    for stream, values in enumerate(features):
        density = densities(model, stream, values).reshape(len(values), len(model.phones), -1)
        density -= density.max(axis=(1, 2), keepdims=True)
        fourth = np.sort(density, axis=2)[:, :, -4:-3]
        kept = np.where(density >= fourth, np.exp(np.maximum(density, -CLAMP)), 0)
        for book in range(len(model.phones)):
            states = np.flatnonzero(model.codebook == book)
            total[:, states] += np.log(kept[:, book] @ model.mixtures[stream][:, states] + 1e-30)
    return total


def test_a_damaged_model_is_a_named_error(tmp_path: Path) -> None:
    with pytest.raises(ModelFileError, match="install"):
        read_model(tmp_path)
    for file in Path(model_folder()).iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "mdef").write_bytes(b"BMDF" + b"\0" * 40)
    with pytest.raises(ModelFileError, match="cannot be read"):
        read_model(tmp_path)


def test_noise_is_taken_out_and_quiet_is_left() -> None:
    prior, _ = shipped_prior()
    sound = clip("right plus one")
    clean = np.log(power_spectrum(sound) @ mel_filters() + 1)
    for snr_db, gain in ((10.0, 2.0), (5.0, 2.0)):
        mel = power_spectrum(noisy(sound, snr_db)) @ mel_filters()
        before = np.abs(np.log(mel + 1) - clean).mean()
        after = np.abs(np.log(clean_speech(mel, prior) + 1) - clean).mean()
        assert after < before / gain
    mel = power_spectrum(sound) @ mel_filters()
    spoken = mel.sum(axis=1) > np.quantile(mel.sum(axis=1), 0.6)
    assert np.abs(np.log(clean_speech(mel, prior) / mel)[spoken]).mean() < 0.5


def test_the_swing_is_brought_back() -> None:
    chance = np.random.default_rng(1)
    flat = chance.standard_normal((300, 13)) * 5 + 40
    usual = np.full(13, 10.0)
    assert centre_and_swing(flat)[1] == pytest.approx(np.full(13, 5.0), rel=0.2)
    for strength, wanted in ((0.0, centre_and_swing(flat)[1]), (1.0, usual)):
        centre, swing = centre_and_swing(normalised(flat, usual, strength) + 100)
        assert centre == pytest.approx(np.full(13, 100.0), abs=1e-9)
        assert swing == pytest.approx(wanted, rel=1e-6)


def test_more_silence_round_a_word_changes_little() -> None:
    word = clip("locked")
    padded = np.concatenate([word[:4000], word, word[-4000:], word[:4000]])
    short, long = (cepstra(power_spectrum(sound) @ mel_filters()) for sound in (word, padded))
    plain = np.abs(long.mean(axis=0) - short.mean(axis=0))
    weighted = np.abs(centre_and_swing(long)[0] - centre_and_swing(short)[0])
    assert weighted[0] < plain[0] / 4
    assert weighted.mean() < plain.mean() / 2


def test_digital_silence_does_not_count() -> None:
    sound = cepstra(power_spectrum(clip("locked")) @ mel_filters())
    digital = np.concatenate([np.full((50, 13), -20.0), sound])
    assert centre_and_swing(digital)[0] == pytest.approx(centre_and_swing(sound)[0])


def walk(graph: WordGraph) -> set[str]:
    found: set[str] = set()
    todo: list[tuple[int, tuple[str, ...]]] = [(0, ())]
    while todo:
        state, words = todo.pop()
        if state in graph.finals and words:
            found.add(" ".join(words))
        todo += [(arc.end, (*words, arc.word)) for arc in graph.arcs if arc.start == state]
    return found


def test_the_word_graph_has_exactly_the_sentences_of_the_offer() -> None:
    offer = Offer(Scale("thou", 3, Scale().step), ("say again", "correction"), readings=True)
    tree = sentences(offer)
    found = walk(word_graph(tree))
    accepted = acceptor(tree)
    assert all(accepted.fullmatch(f" {words}") for words in found)
    words = sorted({word for said in found for word in said.split()})
    for length in (1, 2, 3):
        for said in itertools.product(words, repeat=length):
            text = " ".join(said)
            assert (accepted.fullmatch(f" {text}") is not None) == (text in found), text


@pytest.mark.parametrize("scale", [Scale(), Scale("mm"), Scale("thou", 999)])
def test_graphs_stay_small(scale: Scale) -> None:
    graph = word_graph(sentences(everything(scale)))
    assert len(graph.arcs) < 1500


SOUNDS = {
    "yes": [["Y", "EH", "S"]],
    "no": [["N", "OW"]],
    "a": [["AH"], ["EY"]],
    "oh": [["OW"]],
}
TREE = Alt((Seq((Alt(("yes", "no"), "x"), Opt("a"), Alt(("oh", "no"), "y"))), "yes"), "root")


@pytest.fixture(scope="module")
def small(model: AcousticModel) -> StateGraph:
    return state_graph(model, word_graph(TREE), SOUNDS)


def random_scores(graph: StateGraph, frames: int, seed: int) -> npt.NDArray[np.float32]:
    chance = np.random.default_rng(seed)
    return (-8 * chance.random((frames, len(graph.states)))).astype(np.float32)


@pytest.mark.parametrize("seed", range(4))
def test_forwards_and_backwards_agree_on_every_frame(small: StateGraph, seed: int) -> None:
    scores = random_scores(small, 60, seed)
    found, after = forward(small, scores), backward(small, scores)
    best = best_path(small, found)
    assert best is not None
    assert found.node[0][small.starts].max() == 0
    assert after.node[0][small.starts].max() == pytest.approx(best.score, rel=1e-5)
    through = (found.at + after.rest).max(axis=(1, 2))
    assert through == pytest.approx(np.full(60, best.score), rel=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_each_sentence_alone_scores_what_the_whole_graph_says(
    model: AcousticModel, small: StateGraph, seed: int
) -> None:
    """Brute force: a graph of one sentence at a time against the rivals of the whole."""
    scores = random_scores(small, 60, seed)
    column = {int(state): scores[:, at] for at, state in enumerate(small.states)}
    weights: dict[str, float] = {}
    for said in walk(word_graph(TREE)):
        alone = state_graph(model, word_graph(Alt((said,), "root")), SOUNDS)
        path = best_path(
            alone, forward(alone, np.stack([column[int(s)] for s in alone.states], axis=1))
        )
        assert path is not None
        weights[said] = path.score
    found, after = forward(small, scores), backward(small, scores)
    best = best_path(small, found)
    assert best is not None
    assert best.score == pytest.approx(max(weights.values()), rel=1e-5)
    assert sentence(small, best) == max(weights, key=lambda said: weights[said])
    for path in best_endings(small, found):
        assert path.score <= weights[sentence(small, path)] + 0.01
    totals = through_heads(small, scores, found, after)
    heads = np.flatnonzero(small.head)
    for at in range(0, len(heads), 7):
        frame = int(np.argmax(totals[:, at]))
        if totals[frame, at] < NEVER / 2:
            continue
        path = path_through(small, scores, found, after, int(heads[at]), frame)
        assert path.score == pytest.approx(float(totals[frame, at]), rel=1e-5)
        assert path.score <= weights[sentence(small, path)] + 0.01
        assert path.steps[0].start == 0
        assert path.steps[-1].end == 60


def test_too_few_frames_hold_no_sentence(small: StateGraph) -> None:
    assert best_path(small, forward(small, random_scores(small, 3, 1))) is None
