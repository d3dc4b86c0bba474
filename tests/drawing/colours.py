"""Colours as others see them, and how far two are apart.

Colour blindness: matrices on linear sRGB for the whole loss of one kind of cones, of G. M. Machado, M. M. Oliveira and
L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Transactions on
Visualization and Computer Graphics 15 (6), 2009 (their table for severity 1.0). sRGB: IEC 61966-2-1. Lab and ΔE*ab:
CIE 1976, white D65.
"""

from __future__ import annotations

Colour = tuple[float, float, float]
"""Linear sRGB, 0 to 1."""

SIGHTS = ("all", "protanopia", "deuteranopia", "tritanopia", "grey")

_SEEN = {
    "all": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
    "grey": ((0.2126, 0.7152, 0.0722),) * 3,
}

_TO_XYZ = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
_WHITE = (0.9505, 1.0, 1.089)


def linear(colour: str) -> Colour:
    """A colour written #rrggbb as linear sRGB."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return r, g, b


def seen(colour: str, sight: str) -> Colour:
    """A colour as it looks to somebody of that sight, or printed in grey."""
    r, g, b = (min(1.0, max(0.0, value)) for value in _times(_SEEN[sight], linear(colour)))
    return r, g, b


def difference(a: Colour, b: Colour) -> float:
    """ΔE*ab."""
    return sum((x - y) ** 2 for x, y in zip(lab(a), lab(b), strict=True)) ** 0.5


def lab(colour: Colour) -> Colour:
    """L*, a*, b*."""
    x, y, z = (_root(value / white) for value, white in zip(_times(_TO_XYZ, colour), _WHITE, strict=True))
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def contrast(a: Colour, b: Colour) -> float:
    """The ratio of luminances as the Web Content Accessibility Guidelines count it."""
    low, high = sorted(0.2126 * r + 0.7152 * g + 0.0722 * bl for r, g, bl in (a, b))
    return (high + 0.05) / (low + 0.05)


def _root(value: float) -> float:
    return float(value ** (1 / 3)) if value > (6 / 29) ** 3 else value * (29 / 6) ** 2 / 3 + 4 / 29


def _times(matrix: tuple[Colour, ...], colour: Colour) -> tuple[float, ...]:
    return tuple(sum(m * c for m, c in zip(row, colour, strict=True)) for row in matrix)
