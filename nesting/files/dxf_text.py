"""Text as DXF wants it: names that cannot be taken for control codes, and files that are the same every time."""

from __future__ import annotations

import re
from collections.abc import Iterator

LONGEST_TEXT = 250
"""Signs of a text; longer names are cut. Even as `\\U+xxxx` each they stay under the 2049 bytes that R2000 allows."""

_FIXED = {
    "$TDCREATE": "2451544.5",  # midnight, 1 January 2000, as a Julian date
    "$TDUCREATE": "2451544.5",
    "$TDUPDATE": "2451544.5",
    "$TDUUPDATE": "2451544.5",
    "$FINGERPRINTGUID": "{00000000-0000-0000-0000-000000000000}",
    "$VERSIONGUID": "{00000000-0000-0000-0000-000000000000}",
}
"""Header variables that tell when and as which copy a file was written."""
_BACKSLASH = re.compile(r"\\(?=[UuMm]\+)")
"""One that would begin a code point."""
_WRITTEN_BY = re.compile(r"\d+\.\d+\S* @ \d{4}-\d\d-\d\dT\S+")
"""What the library notes of itself and the time."""


def dxf_text(text: str) -> str:
    """Return a text on one line that reads back as it is, in ASCII.

    Signs that cannot be printed become spaces, signs beyond the Basic Multilingual Plane question marks. What could be
    a control code (two per cent signs, a caret, a backslash before U+) is written so that it is none.
    """
    plain = "".join(sign if sign.isprintable() else " " for sign in text)[:LONGEST_TEXT]
    plain = re.sub(r"%{2,}", lambda run: "%%%" * len(run[0]), plain)  # %%% is one per cent sign
    return "".join(map(_sign, _BACKSLASH.sub("\0", plain)))


def _sign(sign: str) -> str:
    if sign == "^":
        return "^ "  # a caret alone makes a control code of what follows
    if sign == "\0":
        return "\\U+005C"
    if sign > "~":
        return f"\\U+{ord(sign):04X}" if sign <= "\uffff" else "?"
    return sign


def with_fixed_data(text: str) -> str:
    """Return a DXF file without the time, the random numbers and the library's version in it."""
    return "\n".join(_fixed(text.split("\n")))


def _fixed(lines: list[str]) -> Iterator[str]:
    """Yield the lines: a group code and its value in turn."""
    kind = variable = ""
    for code, value in zip(lines[::2], lines[1::2], strict=False):
        bare = code.strip()
        if bare == "0":
            kind, variable = value, ""
        elif bare == "9":
            variable = value
        elif variable in _FIXED:
            value = _FIXED[variable]
        elif kind == "DICTIONARYVAR" and _WRITTEN_BY.fullmatch(value):
            value = "0"
        yield code
        yield value
    if len(lines) % 2:
        yield lines[-1]
