"""A PulseAudio of our own with pretended devices, for the real PortAudio path.

Two null sinks: what is played into ``micfeed`` is what the microphone hears; what the
program plays can be recorded from ``spk``.
"""

import ctypes.util
import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

_CONFIGURATION = """\
load-module module-native-protocol-unix
load-module module-null-sink sink_name=spk rate=48000 channels=1 norewinds=true
load-module module-null-sink sink_name=micfeed rate=48000 channels=1 norewinds=true
load-module module-remap-source source_name=mic master=micfeed.monitor
set-default-sink spk
set-default-source mic
"""


def what_is_missing() -> str:
    """Why the real path cannot be tested here; empty when it can."""
    missing = [name for name in ("pulseaudio", "pacat", "pactl") if shutil.which(name) is None]
    if ctypes.util.find_library("portaudio") is None:
        missing.append("libportaudio2")
    if missing:
        return (
            f"{', '.join(missing)} not installed "
            "(apt install pulseaudio pulseaudio-utils libasound2-plugins libportaudio2)"
        )
    return ""


class PrivatePulse:
    """The server, in a folder of its own; ``environment`` makes programs use it."""

    def __init__(self) -> None:
        # A short path: a socket's may have 107 characters.
        self._folder = Path(tempfile.mkdtemp(prefix="pulse-", dir="/tmp"))
        home, runtime = self._folder / "home", self._folder / "run"
        home.mkdir()
        runtime.mkdir(mode=0o700)
        (home / ".asoundrc").write_text(
            "pcm.!default { type pulse }\nctl.!default { type pulse }\n"
        )
        (self._folder / "test.pa").write_text(_CONFIGURATION)
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("PULSE_", "XDG_"))}
        self.environment = {**kept, "HOME": str(home), "XDG_RUNTIME_DIR": str(runtime)}
        self._server: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "PrivatePulse":
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()
        shutil.rmtree(self._folder, ignore_errors=True)

    def start(self) -> None:
        """Plug the devices in: returns when the server answers."""
        self._server = subprocess.Popen(
            ["pulseaudio", "-n", "-F", str(self._folder / "test.pa"), "--daemonize=no",
             "--exit-idle-time=-1", "--use-pid-file=no"],
            env=self.environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for _ in range(200):
            if self.control("info") == 0:
                return
            try:
                self._server.wait(0.05)
            except subprocess.TimeoutExpired:
                continue
            break
        raise RuntimeError("pulseaudio does not start")

    def kill(self) -> None:
        """Pull every device out at once."""
        server, self._server = self._server, None
        if server is not None:
            server.send_signal(signal.SIGKILL)
            server.wait()

    def control(self, *words: str) -> int:
        """Run pactl; its exit code."""
        return subprocess.run(
            ["pactl", *words], env=self.environment, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, check=False,
        ).returncode  # fmt: skip

    def say_into_microphone(self, raw: bytes, rate: int) -> "subprocess.Popen[bytes]":
        """Play int16 mono sound to the microphone; returns while it is going on."""
        with tempfile.TemporaryFile(dir=self._folder) as sound:
            sound.write(raw)
            sound.seek(0)
            return subprocess.Popen(
                ["pacat", "-p", "--raw", "--format=s16le", f"--rate={rate}", "--channels=1",
                 "--device=micfeed"],
                env=self.environment, stdin=sound, stderr=subprocess.DEVNULL,
            )  # fmt: skip

    @contextmanager
    def recorder(self, target: Path) -> Iterator[None]:
        """Record what the program plays, int16 mono at 48 kHz."""
        with target.open("wb") as stream:
            recorder = subprocess.Popen(
                ["pacat", "-r", "--raw", "--format=s16le", "--rate=48000", "--channels=1",
                 "--latency-msec=20", "--device=spk.monitor"],
                env=self.environment, stdout=stream, stderr=subprocess.DEVNULL,
            )  # fmt: skip
            try:
                # A source that sleeps takes up to two seconds to deliver.
                while target.stat().st_size == 0:
                    assert recorder.poll() is None, "the recorder ended"
                    time.sleep(0.01)
                yield
            finally:
                recorder.terminate()
                recorder.wait()

    @contextmanager
    def speaker_heard(self) -> Iterator[None]:
        """The microphone stands in front of the speaker."""
        self.control("load-module", "module-loopback", "source=spk.monitor", "sink=micfeed",
                     "latency_msec=20")  # fmt: skip
        try:
            yield
        finally:
            self.control("unload-module", "module-loopback")
