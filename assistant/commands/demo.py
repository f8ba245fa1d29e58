"""The ``demo`` command: a whole job by sound between the real ears, dialogue and voice.

The machine and the person are simulated; recogniser, dialogue, metrology, text-to-speech,
record and report are those of a real job.
"""

import argparse
import json
import random
import sys
import tempfile
from math import ceil
from pathlib import Path
from typing import TextIO

from assistant.devices.ears.engines import recogniser
from assistant.devices.ears.hearing import Ears, Utterance
from assistant.devices.ears.model_faults import RecogniserError
from assistant.devices.ears.verify import verify
from assistant.devices.faults import DeviceFault
from assistant.devices.sound.mixdown import MixdownError
from assistant.devices.voice.synthesis import Voice
from assistant.devices.voice.tones import tone
from assistant.dialogue import wording
from assistant.dialogue.messages import TURNED_DOWN, Effect, Say, Tone
from assistant.dialogue.procedures.close import Close
from assistant.metrology.answer import Answer
from assistant.records.export import export_json
from assistant.records.faults import RecordError
from assistant.records.journal.history import history_of
from assistant.records.journal.journal import Journal
from assistant.records.names import one_line
from assistant.records.report.files import write_report
from assistant.records.whole_files import replace_file
from assistant.simulation.bench import Bench, draw_machine, profile_for
from assistant.simulation.caller import Operator
from assistant.simulation.clock import SimulatedClock
from assistant.simulation.noise import RATE
from assistant.simulation.rehearsal import Rehearsal, rehearse
from assistant.simulation.sound_carrier import SoundCarrier
from assistant.simulation.soundtrack import ASSISTANT, QuietRoom, Soundtrack
from assistant.simulation.synthesised import somebody
from assistant.simulation.wording import EVERYDAY
from grammar.meaning import Reading

WAV, REPORT, JOB, RECORD = "conversation.wav", "report.html", "job.json", "job.db"

BREATH_S = 0.12
"""Between two sounds of the assistant."""

STEP_S = 0.1


class DemoError(Exception):
    """The demo cannot be played; the text is one line and says what to do."""


def run_demo(seed: int, out: Path, *, as_json: bool, stdout: TextIO, stderr: TextIO) -> int:
    """Play the job of a seed and write its four files into ``out``; 0 when it came to its end.

    With ``as_json`` prints the figures as one JSON object, else the conversation as it goes
    and the figures at the end. An earlier demo's files are replaced when all are complete.
    """
    try:
        _check_folder(out)
        with tempfile.TemporaryDirectory(prefix=".demo-", dir=out) as folder:
            show = None if as_json else stdout
            figures = _play(seed, Path(folder), show)
            for name in (RECORD, REPORT, JOB, WAV):
                (Path(folder) / name).replace(out / name)
    except OSError as error:
        stderr.write(f"{out}: {error.strerror or error}; choose another folder with --out\n")
        return 1
    except (DemoError, DeviceFault, RecogniserError, MixdownError, RecordError) as error:
        stderr.write(f"{error}\n")
        return 1
    figures |= {"wav": str(out / WAV), "report": str(out / REPORT), "job": str(out / JOB)}
    ended = str(figures["ended"])
    stdout.write(json.dumps(figures, allow_nan=False) + "\n" if as_json else _in_words(figures))
    if ended:
        stderr.write(f"the job did not come to its end: {ended}; try another seed\n")
    return 1 if ended else 0


def _check_folder(out: Path) -> None:
    """Make the folder; refuse to replace a record that no demo has written."""
    if out.exists() and not out.is_dir():
        raise DemoError(f"{out} is not a folder; choose another with --out")
    out.mkdir(parents=True, exist_ok=True)
    if (out / RECORD).exists():
        with Journal.open(out / RECORD, write=False) as journal:
            if not all(row.id.startswith("demo-") for row in journal.jobs()):
                raise DemoError(f"{out / RECORD} is not a demo's; choose another folder with --out")


class _Stage:
    """The assistant's side of the room: what it says is heard and, if wanted, printed."""

    def __init__(self, track: Soundtrack, voice: Voice, show: TextIO | None) -> None:
        self._track = track
        self._voice = voice
        self._show = show

    def perform(self, effect: Effect) -> None:
        """Say or sound it; everything else makes no noise."""
        clock = self._track.clock
        if isinstance(effect, Tone):
            samples = tone(effect.name, RATE)
            self._track.sound(samples, RATE)
            clock.pass_time(len(samples) / RATE + BREATH_S)
        elif isinstance(effect, Say):
            self._line(clock.seconds, "<", effect.text)
            spoken, rate = self._voice.synthesise(effect.text)
            self._track.voice(spoken, rate, ASSISTANT)
            # In whole steps: the library's speech differs by a sample from run to run, and
            # the room must sound the same under the next call.
            clock.pass_time(ceil(len(spoken) / rate / STEP_S) * STEP_S + BREATH_S)

    def called(self, at_s: float, words: str, heard: Utterance | None) -> None:
        """The person called something."""
        note = ""
        if heard is None:
            note = "   [nothing heard]"
        elif heard.outcome in TURNED_DOWN:
            note = "   [not understood]"
        elif heard.words != words:
            note = f"   [heard: {heard.words}]"
        elif heard.outcome == "ask" and not _lacks_its_sign(heard):
            note = "   [not sure]"
        self._line(at_s, ">", words + note)

    def _line(self, at_s: float, mark: str, text: str) -> None:
        if self._show is not None:
            self._show.write(f"{int(at_s) // 60}:{int(at_s) % 60:02d} {mark} {text}\n")
            self._show.flush()


def _lacks_its_sign(heard: Utterance) -> bool:
    return isinstance(heard.meaning, Reading) and not heard.meaning.signed


def _play(seed: int, folder: Path, show: TextIO | None) -> dict[str, object]:
    """The job, its files in ``folder``, and its figures."""
    chance = random.Random(f"demo {seed}")
    clock = SimulatedClock()
    room = QuietRoom(chance.randrange(2**32))
    track = Soundtrack(clock, room)
    person = somebody(seed)
    stage = _Stage(track, Voice(), show)
    bench = Bench(draw_machine(seed))
    profile = profile_for()
    operator = Operator(bench, profile, random.Random(f"operator {seed}"), EVERYDAY)
    carrier = SoundCarrier(
        person, Ears(recogniser("auto"), verify), track, room, chance, stage.called
    )

    def notice(effect: Effect) -> None:
        carrier.notice(effect)
        stage.perform(effect)

    job = f"demo-{seed}"
    found = (bench.machine.front_minus_back, bench.machine.right_minus_left)
    with Journal.open(folder / RECORD) as journal:
        journal.start(job, profile.name, clock.now())
        played = rehearse(
            operator,
            carrier,
            clock,
            job=job,
            keep=lambda event: journal.append(job, event),
            notice=notice,
        )
        if played.state.phase is Close.CLOSED:
            journal.close_job(job, clock.now())
        write_report(journal, job, folder / REPORT)
        stage.perform(Say(wording.REPORT_WRITTEN))
        replace_file(folder / JOB, export_json(history_of(journal, job)).encode("utf-8"))
    track.write(folder / WAV)
    return _figures(seed, played, bench, found) | {
        "voice": person.voice,
        "length_s": round(track.length_s, 1),
    }


def _figures(
    seed: int, played: Rehearsal, bench: Bench, found: tuple[float, float]
) -> dict[str, object]:
    state, tally = played.state, played.tally
    return {
        "seed": seed,
        "as_found": _measured(state.as_found),
        "as_left": _measured(state.as_left),
        "true_as_found": _rounded(*found),
        "true_as_left": _rounded(bench.front_minus_back, bench.right_minus_left),
        "unit": state.profile.scale.system,
        "sweeps": len(state.sweeps),
        "utterances": tally.utterances,
        "misheard": tally.misheard,
        "missed": tally.missed,
        "asked": tally.asked,
        "committed_wrong": played.committed_wrong(),
        "ended": tally.ended,
    }


def _measured(answer: Answer | None) -> dict[str, float] | None:
    return None if answer is None else _rounded(answer.front_minus_back, answer.right_minus_left)


def _rounded(front_minus_back: float, right_minus_left: float) -> dict[str, float]:
    tilt = (front_minus_back**2 + right_minus_left**2) ** 0.5
    return {
        "front_minus_back": round(front_minus_back, 3) + 0.0,
        "right_minus_left": round(right_minus_left, 3) + 0.0,
        "tilt": round(tilt, 3),
    }


def _in_words(figures: dict[str, object]) -> str:
    lines = ["", f"{'':22}front - back   right - left   tilt   ({figures['unit']})"]
    for key, name in (
        ("as_found", "as found"),
        ("as_left", "as left"),
        ("true_as_left", "as left, in truth"),
    ):
        row = figures[key]
        if isinstance(row, dict):
            lines.append(
                f"{name:22}{row['front_minus_back']:12.1f}{row['right_minus_left']:15.1f}"
                f"{row['tilt']:7.1f}"
            )
    lines += [
        "",
        f"{figures['sweeps']} sweeps, {figures['utterances']} calls:"
        f" {figures['misheard']} misheard, {figures['missed']} not understood,"
        f" {figures['asked']} asked about, {figures['committed_wrong']} wrong readings kept",
        f"conversation  {one_line(str(figures['wav']), 4_096)}",
        f"report        {one_line(str(figures['report']), 4_096)}",
        f"job           {one_line(str(figures['job']), 4_096)}",
        "",
    ]
    return "\n".join(lines)


def execute(arguments: argparse.Namespace) -> int:
    """``sweepsay demo``."""
    return run_demo(
        arguments.seed, arguments.out, as_json=arguments.json, stdout=sys.stdout, stderr=sys.stderr
    )
