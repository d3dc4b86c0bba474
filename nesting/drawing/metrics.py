"""How wide a text can get, whichever of the common sans-serif faces the reader has."""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from functools import lru_cache
from itertools import accumulate

LINE_HEIGHT = 1.225
"""Height of a line over the type size: ascenders and descenders of the tallest of the faces, rounded up to whole pixels
as browsers do with both of them at small sizes."""

_BOLD = 1.14
"""Bold over regular, the widest of the faces."""

# Advance widths of U+0020 to U+007E in thousandths of the type size: the larger of two free faces, one drawn to the
# widths of the usual sans-serif of office printers, one wide (Liberation Sans 2, DejaVu Sans 2.37; read off the fonts).
_ASCII = (
    317, 400, 459, 837, 636, 950, 779, 274, 390, 390, 500, 837, 317, 360, 317, 336,
    636, 636, 636, 636, 636, 636, 636, 636, 636, 636, 336, 336, 837, 837, 837, 556,
    1015, 684, 686, 722, 770, 667, 611, 778, 751, 294, 500, 667, 557, 862, 748, 787,
    667, 787, 722, 667, 611, 731, 684, 988, 685, 667, 685, 390, 336, 390, 837, 556,
    500, 612, 634, 549, 634, 615, 352, 634, 633, 277, 277, 579, 277, 974, 633, 611,
    634, 634, 411, 520, 392, 633, 591, 817, 591, 591, 524, 636, 336, 636, 837,
)  # fmt: skip

_SIGNS = {"·": 318, "×": 838, "…": 1000, "–": 556, "—": 1000, "→": 1000, "↑": 838, "←": 1000, "↓": 838, "’": 318,
          "“": 518, "”": 518, "²": 401, "½": 969}  # fmt: skip
"""The same of the signs that the sheets themselves use."""

_SCRIPTS = ((0x370, 0x3FF, 1000), (0x400, 0x45F, 1100), (0x590, 0x5FF, 800))
"""Upper estimates of Greek, Cyrillic and Hebrew letters."""

_LETTER, _SYMBOL, _PICTURE, _MARK = 1250, 1750, 1650, 900
"""Upper estimates of other letters; of symbols and rare scripts; of pictures, which come from a font of their own; and
of combining marks that a face may lack and then shows as a box."""

_ACCENT, _HORN = 20, 130
"""What an accent may add to the width of its letter, and what the horn of ơ and ư adds."""

_MARKS_IN_PLACE = ((0x300, 0x34F), (0x5B0, 0x5C3), (0x64B, 0x655), (0xFE00, 0xFE0F), (0xE0100, 0xE01EF))
"""Combining marks that every face sets above or below the letter before, without a width of their own."""

_ELLIPSIS = "…"
_ISOLATE, _POP = "\u2068", "\u2069"
"""First strong isolate, and the end of it: what stands between them turns nothing outside (Unicode Annex 9)."""

_TURNING = ("R", "AL", "AN")
"""Classes of characters that run right to left, or are numbers of such a script."""


def text_width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Return an upper estimate of the width of `text` set in `size_mm`."""
    return _thousandths(text) / 1000 * size_mm * (_BOLD if bold else 1.0)


@lru_cache(maxsize=4096)
def _thousandths(text: str) -> int:
    """Return the advance of a text in thousandths of the type size; the same labels are measured again and again."""
    return sum(_advance(char) for char in text)


@lru_cache(maxsize=4096)
def _advance(char: str) -> int:
    """Return the advance of one character in thousandths of the type size."""
    code = ord(char)
    if 0x20 <= code <= 0x7E:
        return _ASCII[code - 0x20]
    if char in _SIGNS:
        return _SIGNS[char]
    kind = unicodedata.category(char)
    if kind in ("Mn", "Me"):
        return 0 if any(low <= code <= high for low, high in _MARKS_IN_PLACE) else _MARK
    if kind == "Cf":
        return 0 if code in (0xAD, 0x61C, 0xFEFF) or 0x200B <= code <= 0x206F or code >= 0xE0000 else _MARK
    if code >= 0x1F000 or unicodedata.east_asian_width(char) in ("W", "F"):
        return _PICTURE
    parts = unicodedata.normalize("NFD", char)
    if parts[0] != char and 0x20 <= ord(parts[0]) <= 0x7E:
        return _ASCII[ord(parts[0]) - 0x20] + (_HORN if "\u031b" in parts else _ACCENT)
    several = unicodedata.normalize("NFKD", char)
    usual = next((width for low, high, width in _SCRIPTS if low <= code <= high), _LETTER)
    rare = 0x1400 <= code < 0x1700 or 0x2020 <= code < 0x2C00 or code >= 0xA600
    return max(_SYMBOL if rare else usual, sum(map(_advance, several)) if len(several) > 1 else 0)


def clean(name: str) -> str:
    """Return a name as one line that may stand in an XML file; one that runs right to left is set apart as a whole."""
    line = _one_line(name)
    if any(unicodedata.bidirectional(char) in _TURNING for char in line):
        return f"{_ISOLATE}{line}{_POP}"  # figures beside the name stay where they are
    return line


def composed(text: str) -> str:
    """Return a line put together from names and words as one line for an XML file.

    Names that `clean` has set apart stay so; what else runs right to left is set apart run by run.
    """
    parts = re.split(f"({_ISOLATE}[^{_ISOLATE}{_POP}]*{_POP})", text)
    apart = (part if k % 2 == 0 else f"{_ISOLATE}{_one_line(part)}{_POP}" for k, part in enumerate(parts))
    whole = "".join(part if k % 2 else _runs_apart(_spaced(part)) for k, part in enumerate(apart))
    return " ".join(whole.split())


def lawful(ident: str) -> str:
    """Return an identifier with a replacement character for what may not stand in XML 1.0, and nothing else changed."""
    return "".join(char if char in "\t\n\r" or _is_lawful(char) else "\ufffd" for char in ident)


def _runs_apart(text: str) -> str:
    """Return a text with every run of characters from right to left set apart."""
    found, start, last = "", -1, -1  # the run goes from `start` to `last`
    done = 0
    for at, char in enumerate(text):
        kind = unicodedata.bidirectional(char)
        if kind in _TURNING:
            start, last = (at if start < 0 else start), at
        elif kind == "L" and start >= 0:
            found += f"{text[done:start]}{_ISOLATE}{text[start : last + 1]}{_POP}"
            done, start = last + 1, -1
    if start >= 0:
        found += f"{text[done:start]}{_ISOLATE}{text[start : last + 1]}{_POP}"
        done = last + 1
    return found + text[done:]


def _one_line(text: str) -> str:
    """Return a text without what may not stand in XML or turns the line, its words a space apart."""
    return " ".join(_spaced(text).split())


def _spaced(text: str) -> str:
    """Return a text with a space in the place of what may not stand in XML 1.0 or turns the line round."""
    return "".join(char if _is_text(char) else " " for char in text)


def _is_text(char: str) -> bool:
    """Tell whether `char` may stand in XML 1.0 and does not turn the line round."""
    code = ord(char)
    turns = 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069
    return _is_lawful(char) and not turns and not 0x7F <= code <= 0x9F


def _is_lawful(char: str) -> bool:
    """Tell whether `char` may stand in XML 1.0; tab and ends of line, which may, count as not."""
    code = ord(char)
    return code >= 0x20 and not 0xD800 <= code <= 0xDFFF and code not in (0xFFFE, 0xFFFF)


def shortened(text: str, size_mm: float, room_mm: float, *, bold: bool = False) -> str:
    """Return `text`, or as much of it as fits into `room_mm` with an ellipsis; "" if not even two letters fit."""
    if text_width_mm(text, size_mm, bold=bold) <= room_mm:
        return text
    at_least = 3 if text.startswith(_ISOLATE) else 2
    room = room_mm * 1000 / (size_mm * (_BOLD if bold else 1.0)) - _advance(_ELLIPSIS)
    ends = list(accumulate(map(_advance, text)))
    for count in range(min(bisect_right(ends, room), len(text) - 1), at_least - 1, -1):
        if _hangs_on(text, count):
            continue
        short = text[:count].rstrip() + _ELLIPSIS
        return short + _POP if short.count(_ISOLATE) > short.count(_POP) else short
    return ""


def _hangs_on(text: str, at: int) -> bool:
    """Tell whether the character at a place belongs to the one before: a mark, a joined picture, a tone of skin."""
    return (unicodedata.category(text[at])[0] == "M" or text[at - 1] in ("\u200d", _ISOLATE)
            or 0x1F3FB <= ord(text[at]) <= 0x1F3FF)  # fmt: skip


def wrapped(text: str, size_mm: float, room_mm: float) -> list[str]:
    """Return `text` broken between words into lines of at most `room_mm`; a word too long is shortened.

    What is set apart is one word: a line never ends inside it.
    """
    lines: list[str] = []
    line = ""
    for word in re.findall(f"(?:{_ISOLATE}[^{_POP}]*{_POP}|[^\\s{_ISOLATE}])+", text):
        longer = f"{line} {word}" if line else word
        if text_width_mm(longer, size_mm) <= room_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = shortened(word, size_mm, room_mm)
    return [*lines, line] if line else lines
