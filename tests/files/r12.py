"""A tiny writer of DXF R12, apart from the library under test: header, polylines, texts, blocks, from the format's own
description (group codes in pairs of lines)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

Corner = tuple[float, float] | tuple[float, float, float]


def tags(*pairs: tuple[int, object]) -> str:
    """Return group codes with their values."""
    return "".join(f"{code:3d}\n{value}\n" for code, value in pairs)


def polyline(corners: Sequence[Corner], layer: str = "ROOMS", *, closed: bool = True, flags: int = 0) -> str:
    """Return a POLYLINE; a third number of a corner is the bulge of the side that begins there."""
    head = tags((0, "POLYLINE"), (8, layer), (66, 1), (10, 0.0), (20, 0.0), (30, 0.0), (70, closed | flags))
    for corner in corners:
        head += tags((0, "VERTEX"), (8, layer), (10, repr(float(corner[0]))), (20, repr(float(corner[1]))))
        head += tags((42, repr(float(corner[2])))) if len(corner) > 2 else ""
    return head + tags((0, "SEQEND"), (8, layer))


def text(words: str, at: tuple[float, float], height: float = 100.0, layer: str = "NAMES") -> str:
    """Return a TEXT."""
    return tags((0, "TEXT"), (8, layer), (10, at[0]), (20, at[1]), (40, height), (1, words))


def line(start: tuple[float, float], end: tuple[float, float], layer: str = "0") -> str:
    """Return a LINE."""
    return tags((0, "LINE"), (8, layer), (10, start[0]), (20, start[1]), (11, end[0]), (21, end[1]))


def block(name: str, *entities: str) -> str:
    """Return the definition of a block."""
    head = tags((0, "BLOCK"), (8, "0"), (2, name), (70, 0), (10, 0.0), (20, 0.0))
    return head + "".join(entities) + tags((0, "ENDBLK"), (8, "0"))


def insert(name: str, at: tuple[float, float], layer: str = "0", *more: tuple[int, object]) -> str:
    """Return a reference to a block."""
    return tags((0, "INSERT"), (8, layer), (2, name), (10, at[0]), (20, at[1]), *more)


def drawing(
    entities: Iterable[str],
    *,
    unit: int | None = 4,
    blocks: Iterable[str] = (),
    off: Iterable[str] = (),
    page: str = "",
) -> str:
    """Return a whole file; `unit`: $INSUNITS, None for none; `off`: layers that are off; `page`: its code page."""
    out = tags((0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"))
    out += tags((9, "$DWGCODEPAGE"), (3, page)) if page else ""
    out += tags((9, "$INSUNITS"), (70, unit)) if unit is not None else ""
    out += tags((0, "ENDSEC"))
    layers = list(off)
    if layers:
        out += tags((0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LAYER"), (70, len(layers)))
        for name in layers:
            out += tags((0, "LAYER"), (2, name), (70, 0), (62, -7), (6, "CONTINUOUS"))
        out += tags((0, "ENDTAB"), (0, "ENDSEC"))
    out += tags((0, "SECTION"), (2, "BLOCKS")) + "".join(blocks) + tags((0, "ENDSEC"))
    return out + tags((0, "SECTION"), (2, "ENTITIES")) + "".join(entities) + tags((0, "ENDSEC"), (0, "EOF"))
