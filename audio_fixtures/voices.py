"""The voices of the recordings: who, how fast, and the notice that goes with them."""

from dataclasses import dataclass

ENGINE = "flite 2.2"
ATTRIBUTION = "Language Technologies Institute, Carnegie Mellon University"

NOTICE = """\
The recordings were made with the speech synthesizer flite and its voices, which are not
changed in themselves: each sentence was synthesized, set to one level, put among quiet,
and rounded to 12 bits. Their notice:

Copyright (c) 1999-2001 by Language Technologies Institute, Carnegie Mellon University.
All Rights Reserved.

Permission is hereby granted, free of charge, to use and distribute this software and its
documentation without restriction, including without limitation the rights to use, copy,
modify, merge, publish, distribute, sublicense, and/or sell copies of this work, and to
permit persons to whom this work is furnished to do so, subject to the following
conditions:
 1. The code must retain the above copyright notice, this list of conditions and the
    following disclaimer.
 2. Any modifications must be clearly marked as such.
 3. Original authors' names are not deleted.
 4. The authors' names are not used to endorse or promote products derived from this
    software without specific prior written permission.

CARNEGIE MELLON UNIVERSITY AND THE CONTRIBUTORS TO THIS WORK DISCLAIM ALL WARRANTIES WITH
REGARD TO THIS SOFTWARE, INCLUDING ALL IMPLIED WARRANTIES OF MERCHANTABILITY AND FITNESS,
IN NO EVENT SHALL CARNEGIE MELLON UNIVERSITY NOR THE CONTRIBUTORS BE LIABLE FOR ANY
SPECIAL, INDIRECT OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES WHATSOEVER RESULTING FROM LOSS
OF USE, DATA OR PROFITS, WHETHER IN AN ACTION OF CONTRACT, NEGLIGENCE OR OTHER TORTIOUS
ACTION, ARISING OUT OF OR IN CONNECTION WITH THE USE OR PERFORMANCE OF THIS SOFTWARE.
"""


@dataclass(frozen=True, slots=True)
class Voice:
    """A voice of the engine by its name; ``stretch`` above 1 makes it slower."""

    name: str
    speaker: str
    stretch: float = 1.0


VOICES: dict[str, Voice] = {
    voice.name: voice
    for voice in (
        Voice("rms", "US male, CMU ARCTIC rms", 0.9),
        Voice("slt", "US female, CMU ARCTIC slt"),
        Voice("awb", "Scottish male, CMU ARCTIC awb", 0.8),
    )
}
