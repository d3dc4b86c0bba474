"""DXF files opened: text or binary, whole or damaged; their unit; the numbers in them as whole nanometres."""

from __future__ import annotations

import contextlib
import io
import math
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import recover
from ezdxf.document import Drawing

from nesting.errors import Fault, JobError
from nesting.units import INCH_NM, MM_NM, NM_PER_UNIT, half_up

LARGEST_DXF_BYTES = 32_000_000
STEP_NM = MM_NM // 100
"""Coordinates are read to 0.01 mm: nobody measures a floor finer, and what binary fractions add is far smaller."""
FINE_INCH_NM = INCH_NM // 64
"""In drawings in inches or feet a coordinate within half a step of 1/64 in is that."""

_BINARY = b" Binary DXF\r\n\x1a\x00"  # how the first 22 bytes of a binary file end
_PADDING = b"\0\x1a\r\n\t "
_SURVEY_FOOT = Fraction(1200, 3937) * 1_000 * MM_NM


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingUnit:
    """What the numbers of a drawing are in: nanometres each, and the unit of the job made from it."""

    name: str
    nm: Fraction
    job_unit: str

    @property
    def in_inches(self) -> bool:
        """Tell whether lengths are likely to be whole 1/64 in."""
        return self.job_unit in ("in", "ft")

    def nearest_nm(self, value: Fraction) -> int:
        """Return a number of the drawing in nm: see `STEP_NM` and `FINE_INCH_NM`."""
        exact = value * self.nm
        if self.in_inches:
            fine = half_up(exact / FINE_INCH_NM) * FINE_INCH_NM
            if 2 * abs(exact - fine) <= STEP_NM:
                return fine
        return half_up(exact / STEP_NM) * STEP_NM


def _unit(name: str, nm: Fraction | int, job_unit: str) -> DrawingUnit:
    return DrawingUnit(name=name, nm=Fraction(nm), job_unit=job_unit)


UNITS = {
    1: _unit("inches", INCH_NM, "in"),
    2: _unit("feet", 12 * INCH_NM, "ft"),
    4: _unit("millimetres", MM_NM, "mm"),
    5: _unit("centimetres", 10 * MM_NM, "cm"),
    6: _unit("metres", 1_000 * MM_NM, "m"),
    8: _unit("microinches", Fraction(INCH_NM, 10**6), "in"),
    9: _unit("mils", Fraction(INCH_NM, 1_000), "in"),
    10: _unit("yards", 36 * INCH_NM, "ft"),
    13: _unit("microns", 1_000, "mm"),
    14: _unit("decimetres", 100 * MM_NM, "cm"),
    21: _unit("survey feet", _SURVEY_FOOT, "ft"),
}
"""By the header's $INSUNITS, as the published DXF reference lists its values; those that floors are drawn in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedDrawing:
    """A drawing in memory. `mended`: what had to be mended in the file; `utf8`: its bytes are UTF-8."""

    document: Drawing
    mended: tuple[str, ...]
    utf8: bool

    def text(self, text: str) -> str:
        """Return a text of the drawing; older files that hold UTF-8 but say otherwise are believed by their bytes."""
        if self.utf8 and not text.isascii():
            with contextlib.suppress(UnicodeError, LookupError):  # one written as \U+xxxx is right already
                text = text.encode(self.document.encoding, "surrogateescape").decode("utf-8")
        return "".join("�" if "\ud800" <= sign <= "\udfff" else sign for sign in text)


def open_drawing(path: Path) -> OpenedDrawing:
    """Return the drawing at `path`.

    Raises
    ------
    JobError
        If the file cannot be read, is too large or is no DXF file.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_DXF_BYTES + 1)
    except FileNotFoundError:
        raise _refused(path, "no-file", "there is no such drawing", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(path, "no-file", f"the file cannot be read: {reason}") from None
    if len(data) > LARGEST_DXF_BYTES:
        most = LARGEST_DXF_BYTES // 1_000_000
        raise _refused(path, "too-large", f"the file is larger than {most} MB", "write only the plan's outlines to it")
    try:
        if data[:22].endswith(_BINARY):
            return OpenedDrawing(document=ezdxf.readfile(path), mended=(), utf8=False)
        if not _may_be_dxf(data):
            raise _refused(path, "not-dxf", "this is not a DXF file", "save the drawing as DXF, as text or binary")
        if not data.rstrip(_PADDING).endswith(b"EOF"):  # the last outline may lack corners without it being seen
            hint = "copy it again, or save it again in the program that it comes from"
            raise _refused(path, "damaged-dxf", "the drawing ends early: its end mark is missing", hint)
        document, auditor = recover.read(io.BytesIO(data))
    except JobError:
        raise
    except Exception as error:  # whatever a damaged file brings about in the reader, the file is what is wrong
        what = f"the drawing is damaged and cannot be read: {' '.join(str(error).split())[:120]}"
        hint = "open it in the program that it comes from and save it again"
        raise _refused(path, "damaged-dxf", what, hint) from None
    mended = tuple(" ".join(entry.message.split()) for entry in (*auditor.errors, *auditor.fixes))
    return OpenedDrawing(document=document, mended=mended, utf8=_says_otherwise(document, data))


def _refused(path: Path, code: str, what: str, hint: str = "") -> JobError:
    return JobError([Fault(code=code, what=what, hint=hint, file=str(path))])


def _may_be_dxf(data: bytes) -> bool:
    """Tell whether a file begins with a group code on a line of its own and has a section."""
    first = data[:4096].removeprefix(b"\xef\xbb\xbf").lstrip().split(b"\n", 1)[0].strip()
    return first.isdigit() and b"SECTION" in data


def _says_otherwise(document: Drawing, data: bytes) -> bool:
    """Tell whether a file of an older version, whose text is in the code page that it names, holds UTF-8 all the same.

    Text in a code page of one byte a sign is next to never valid UTF-8 by chance.
    """
    if document.dxfversion >= "AC1021" or data.isascii():
        return False
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def unit_of(opened: OpenedDrawing, told: str, shown: str, path: Path) -> DrawingUnit:
    """Return what the drawing's numbers are in: as told (mm, cm, m, in, ft), else by its header.

    Parameters
    ----------
    told
        What the user says; "": the header counts.
    shown
        How large the drawing is in its own numbers, for the message.

    Raises
    ------
    JobError
        If nothing is told and the header has no unit, or none that floors are drawn in.
    """
    if told:
        return next(unit for unit in UNITS.values() if unit.job_unit == told and unit.nm == NM_PER_UNIT[told])
    code: Any = opened.document.header.get("$INSUNITS", 0)
    found = UNITS.get(code)
    if found is None:
        what = "the drawing does not say what its numbers are in"
        if code:
            what = f"the drawing's unit, number {code} of $INSUNITS, is none that floors are drawn in"
        hint = f"give `--unit mm`, cm, m, in or ft: its outlines reach over {shown}"
        raise _refused(path, "no-unit", what, hint)
    return found


def exact(value: float) -> Fraction:
    """Return a coordinate as it stands in the drawing, exactly; one that is no number is a ValueError."""
    if not math.isfinite(value):
        raise ValueError(f"{value} is no coordinate")
    return Fraction(value)
