"""The model's alphabet: pieces of words, each with a number.

The pieces were learnt by byte pair encoding (R. Sennrich, B. Haddow, A. Birch, 2016): of all
neighbouring pieces that join to a longer one, the one that was learnt first is joined, until
none does. A space is part of the piece that follows it.
"""

from functools import lru_cache

SPACE = "\N{LOWER ONE EIGHTH BLOCK}"
BEGIN, END = 1, 2
"""The numbers before the first token and after the last."""

_BYTES = range(3, 259)
"""Pieces for single bytes, for text without pieces of its own."""


class Tokens:
    """The table of pieces, read from the bytes of ``tokenizer.bin``.

    Each entry is its length (one byte, or two with the high bit of the first set) and its
    bytes; its number is its place. Raises ``ValueError`` for a table that ends inside an entry.
    """

    def __init__(self, table: bytes) -> None:
        self._pieces: list[bytes] = []
        at = 0
        while at < len(table):
            length, at = table[at], at + 1
            if length > 127:
                length, at = length - 128 + 128 * table[at], at + 1
            if at + length > len(table):
                raise ValueError("the table of tokens ends inside an entry")
            self._pieces.append(table[at : at + length])
            at += length
        self._number = {
            piece.decode("utf-8", "replace"): number
            for number, piece in enumerate(self._pieces)
            if number not in _BYTES
        }
        self.encode = lru_cache(maxsize=8192)(self._encode)

    def __len__(self) -> int:
        return len(self._pieces)

    def _encode(self, text: str, *, spaced: bool = True) -> tuple[int, ...]:
        """The tokens of a text, with a space before it or glued to what stands there.

        Raises ``KeyError`` for a character without a piece.
        """
        pieces = list((SPACE if spaced else "") + text.replace(" ", SPACE))
        while True:
            joined = [
                (number, at)
                for at in range(len(pieces) - 1)
                if (number := self._number.get(pieces[at] + pieces[at + 1])) is not None
            ]
            if not joined:
                return tuple(self._number[piece] for piece in pieces)
            _, at = min(joined)
            pieces[at : at + 2] = [pieces[at] + pieces[at + 1]]

    def decode(self, numbers: tuple[int, ...]) -> str:
        """The text of these tokens; bytes that are not UTF-8 are replaced."""
        whole = b"".join(self._pieces[number] for number in numbers)
        return whole.decode("utf-8", "replace").replace(SPACE, " ").strip()
