"""As much of DER (ITU-T X.690) as a time stamp needs: one value after the other, definite lengths, written in
the shortest form.
"""

from __future__ import annotations

from typing import Final

from bailee.errors import Malformed

INTEGER, BOOLEAN, OCTET_STRING, NULL, OID = 0x02, 0x01, 0x04, 0x05, 0x06
SEQUENCE, SET, GENERALIZED_TIME = 0x30, 0x31, 0x18
EXPLICIT_0: Final = 0xA0

_LONG: Final = 0x80


class Reader:
    """Reads the values in `data`, one after the other.

    Everything raises `Malformed` (`bad-der`) for what is not DER.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data
        self._at = 0

    @property
    def more(self) -> bool:
        """Whether anything is left."""
        return self._at < len(self._data)

    def peek(self) -> int:
        """The tag of the next value; 0 when there is none."""
        return self._data[self._at] if self.more else 0

    def take(self, tag: int) -> bytes:
        """The content of the next value, which must have this tag."""
        if self.peek() != tag:
            raise _malformed()
        self._at += 1
        length = self._length()
        if length > len(self._data) - self._at:
            raise _malformed()
        content = self._data[self._at : self._at + length]
        self._at += length
        return content

    def into(self, tag: int) -> Reader:
        """A reader of the next value's content."""
        return Reader(self.take(tag))

    def skip(self) -> None:
        """Leave the next value out."""
        self.take(self.peek())

    def whole(self) -> bytes:
        """The next value with its tag and length, as it stands here."""
        begin = self._at
        self.skip()
        return self._data[begin : self._at]

    def end(self) -> None:
        """Nothing may be left."""
        if self.more:
            raise _malformed()

    def _length(self) -> int:
        if not self.more:
            raise _malformed()
        first = self._data[self._at]
        self._at += 1
        if first < _LONG:
            return first
        digits = self._data[self._at : self._at + first - _LONG]
        self._at += len(digits)
        length = int.from_bytes(digits, "big")
        # X.690 10.1: definite, and in as few bytes as can hold it.
        if not 1 <= first - _LONG <= 4 or len(digits) != first - _LONG or digits[0] == 0 or length < _LONG:
            raise _malformed()
        return length


def value(tag: int, *parts: bytes) -> bytes:
    """A value of this tag around its parts."""
    content = b"".join(parts)
    if len(content) < _LONG:
        return bytes([tag, len(content)]) + content
    digits = len(content).to_bytes((len(content).bit_length() + 7) // 8, "big")
    return bytes([tag, _LONG | len(digits)]) + digits + content


def integer(number: int) -> bytes:
    """A whole number that is not negative."""
    return value(INTEGER, number.to_bytes(number.bit_length() // 8 + 1, "big"))


def _malformed() -> Malformed:
    return Malformed("The time stamp is not in the form it must have: ask for another one.", code="bad-der")
