"""What the real-path tests run in a process of its own: orders on stdin, JSON on stdout.

PortAudio reads its surroundings once per process, so it must start under the private
PulseAudio, not under the test runner's.
"""

import json
import sys
import threading
import time
from pathlib import Path

import numpy as np

from assistant.devices.sound.half_duplex import HalfDuplex
from assistant.devices.sound.library import PortAudio
from assistant.devices.sound.microphone import Microphone
from assistant.devices.sound.speaker import Speaker
from assistant.devices.voice.synthesis import Voice

RATE = 48_000


def tell(**row: object) -> None:
    """One JSON line."""
    sys.stdout.write(json.dumps(row) + "\n")
    sys.stdout.flush()


def main() -> None:
    """Keep microphone and speaker open until "quit"; record into the file that is named."""
    target = Path(sys.argv[1])
    duplex = HalfDuplex(headset="--headset" in sys.argv)
    for_ears, for_voice = PortAudio("microphone"), PortAudio("speaker")
    microphone = Microphone(for_ears, None, lambda reason: tell(mic=reason or "back"), duplex)
    speaker = Speaker(for_voice, None, lambda reason: tell(speaker=reason or "back"), duplex)
    voice = Voice()
    ended = threading.Event()

    def record() -> None:
        with target.open("wb") as out:
            first = True
            while not ended.is_set():
                block = microphone.read(0.1)
                if block is None:
                    continue
                out.write(block.samples.tobytes())
                out.flush()
                if block.gap:
                    tell(gap=out.tell() // 2)
                if first:
                    first = False
                    tell(open=microphone.device_name)

    with microphone, speaker:
        recorder = threading.Thread(target=record)
        recorder.start()
        for line in sys.stdin:
            match line.split(maxsplit=1):
                case ["say", text]:
                    samples, rate = voice.synthesise(text)
                    began = time.monotonic()
                    played = speaker.play(samples, rate)
                    speaker.wait(10)
                    np.save(target.with_suffix(".said.npy"), samples)
                    tell(said=played, rate=rate, took_s=time.monotonic() - began)
                case ["begin", text]:
                    tell(began=speaker.play(*voice.synthesise(text)))
                case ["cut"] | ["cut\n"]:
                    speaker.cut_off()
                    tell(cut=speaker.wait(5))
                case ["last", seconds]:
                    # Loud to its end, and the stream is closed as soon as it is out.
                    hum = np.sin(2 * np.pi * 500 * np.arange(float(seconds) * RATE) / RATE)
                    speaker.play(np.asarray(8_000 * hum, np.int16), RATE)
                    tell(said=speaker.wait(10))
                    break
                case ["quit"] | ["quit\n"]:
                    break
                case other:
                    tell(unknown=str(other))
        ended.set()
        recorder.join()
    tell(overruns=microphone.overruns)


if __name__ == "__main__":
    main()
