"""How wide a text can get, whichever of the common sans-serif faces the reader has."""

from __future__ import annotations

import unicodedata
from functools import lru_cache

LINE_HEIGHT = 1.16
"""Height of a line over the type size: ascenders and descenders of the tallest of the faces."""

_BOLD = 1.14
"""Bold over regular, the widest of the faces."""

# Advance widths of U+0020 to U+007E in thousandths of the type size: the larger of two free faces, one drawn to the
# widths of the usual sans-serif of office printers, one wide (Liberation Sans 2, DejaVu Sans 2.37; read off the fonts).
_ASCII = (
    317, 400, 459, 837, 636, 950, 779, 274, 390, 390, 500, 837, 317, 360, 317, 336,
    636, 636, 636, 636, 636, 636, 636, 636, 636, 636, 336, 336, 837, 837, 837, 556,
    1015, 684, 686, 722, 770, 666, 610, 777, 751, 294, 500, 666, 557, 862, 748, 787,
    666, 787, 722, 666, 610, 731, 684, 988, 685, 666, 685, 390, 336, 390, 837, 556,
    500, 612, 634, 549, 634, 615, 352, 634, 633, 277, 277, 579, 277, 974, 633, 611,
    634, 634, 411, 520, 392, 633, 591, 817, 591, 591, 524, 636, 336, 636, 837,
)  # fmt: skip

_ELLIPSIS = "…"


def text_width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Return an upper estimate of the width of `text` set in `size_mm`."""
    return _thousandths(text) / 1000 * size_mm * (_BOLD if bold else 1.0)


@lru_cache(maxsize=4096)
def _thousandths(text: str) -> int:
    """Return the advance of a text in thousandths of the type size; the same labels are measured again and again."""
    return sum(_advance(char) for char in text)


def _advance(char: str) -> int:
    """Return the advance of one character in thousandths of the type size."""
    code = ord(char)
    if 0x20 <= code <= 0x7E:
        return _ASCII[code - 0x20]
    kind = unicodedata.category(char)
    if kind in ("Mn", "Me", "Cf"):
        return 0
    if code >= 0x1F000 or unicodedata.east_asian_width(char) in ("W", "F"):
        return 1400  # pictures come from a font of their own, wider than the letters
    plain = unicodedata.normalize("NFD", char)[0]
    if plain != char and 0x20 <= ord(plain) <= 0x7E:
        return _ASCII[ord(plain) - 0x20]
    return 1100


def clean(text: str) -> str:
    """Return `text` as one line that may stand in an XML file; a name that runs right to left is set apart."""
    line = " ".join("".join(char if _is_text(char) else " " for char in text).split())
    if any(unicodedata.bidirectional(char) in ("R", "AL", "RLE", "RLO", "RLI") for char in line):
        return f"\u2068{line}\u2069"  # first strong isolate … pop: figures beside the name stay where they are
    return line


def _is_text(char: str) -> bool:
    """Tell whether `char` may stand in XML 1.0 and does not turn the line round."""
    code = ord(char)
    return code >= 0x20 and not (0xD800 <= code <= 0xDFFF or 0x7F <= code <= 0x9F or code in (0xFFFE, 0xFFFF)
                                 or 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069)  # fmt: skip


def shortened(text: str, size_mm: float, room_mm: float, *, bold: bool = False) -> str:
    """Return `text`, or as much of it as fits into `room_mm` with an ellipsis; "" if not even two letters fit."""
    if text_width_mm(text, size_mm, bold=bold) <= room_mm:
        return text
    isolated = text.startswith("\u2068")
    inner = text[1:-1] if isolated else text
    for count in range(len(inner) - 1, 1, -1):
        if unicodedata.category(inner[count])[0] == "M" or inner[count - 1] == "\u200d":
            continue  # never between a letter and its mark
        short = inner[:count].rstrip() + _ELLIPSIS
        if text_width_mm(short, size_mm, bold=bold) <= room_mm:
            return f"\u2068{short}\u2069" if isolated else short
    return ""


def wrapped(text: str, size_mm: float, room_mm: float) -> list[str]:
    """Return `text` broken between words into lines of at most `room_mm`; a word too long is shortened."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if text_width_mm(longer, size_mm) <= room_mm:
            line = longer
            continue
        if line:
            lines.append(line)
        line = shortened(word, size_mm, room_mm)
    return [*lines, line] if line else lines
