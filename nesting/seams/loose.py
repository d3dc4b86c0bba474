"""Loose pieces and strips: the ways to make them up from cuts."""

from __future__ import annotations

from nesting.domain.geometry import Rect
from nesting.domain.job import LoosePiece, Strip
from nesting.domain.layout import Cut, CutKind
from nesting.domain.material import Material
from nesting.floor.outlines import half_up

Cuts = tuple[Cut, ...]


def parts_of_loose(loose: LoosePiece, material: Material) -> tuple[Cuts, ...]:
    """Return the ways to make one loose piece: whole, or of up to `most_parts` parts joined across its length.

    Parts have rough lengths equal up to the cutting step, with a seam allowance at each joint; every part covers at
    least `least_part_nm`. The whole piece comes first.
    """
    ways = []
    for parts in range(1, max(1, loose.most_parts) + 1):
        lengths = _equal_parts(loose.length_nm, parts, material)
        if parts == 1 or _shortest(lengths, material) >= loose.least_part_nm:
            ways.append(_cuts(CutKind.LOOSE, loose.id, loose.name, 0, loose.width_nm, lengths, material))
    return tuple(ways)


def parts_of_strip(strip: Strip, material: Material, longest_nm: int | None) -> tuple[tuple[Cuts, ...], ...]:
    """Return, for every run of a strip, the ways to make it: the fewest lengths that the goods allow, and more.

    Joints are at least `least_joint_nm` apart; beyond the fewest lengths equal ones are tried, halved again and again
    so that short lengths can lie across the goods or in what is left of them.
    """
    return tuple(
        tuple(
            _cuts(CutKind.STRIP, strip.id, strip.name, run, strip.width_nm, lengths, material)
            for lengths in _strip_lengths(length, strip.least_joint_nm, material, longest_nm)
        )
        for run, length in enumerate(strip.runs_nm)
    )


def _equal_parts(length_nm: int, parts: int, material: Material) -> tuple[int, ...]:
    """Return rough lengths of equal parts: the allowances of the joints shared out, then rounded up to the step."""
    half, step = half_up(material.seam_overlap_nm), material.cutting_step_nm
    whole = length_nm + 2 * half * (parts - 1)
    each = -(-whole // (parts * step)) * step
    last = -(-(whole - each * (parts - 1)) // step) * step
    return (each,) * (parts - 1) + (last,)


def _strip_lengths(
    length_nm: int, least_joint_nm: int, material: Material, longest_nm: int | None
) -> tuple[tuple[int, ...], ...]:
    """Return the ways to make up a run of strip, as rough lengths, the fewest joints first."""
    step = material.cutting_step_nm
    most = max(1, length_nm // max(1, least_joint_nm))
    widest = max(material.widths_nm, default=0) - 2 * material.selvedge_nm
    counts = [1, 2, 3, 4]
    for limit in (longest_nm, widest):
        if limit is not None and limit >= step:
            fewest = _fewest_parts(length_nm, limit, material)
            counts += [fewest, fewest + 1]
    ways = []
    for parts in sorted(set(counts)):
        if 0 < parts <= most:
            lengths = _equal_parts(length_nm, parts, material)
            apart = parts == 1 or _shortest(lengths, material) >= least_joint_nm
            if apart and (longest_nm is None or max(lengths) <= max(longest_nm, widest)):
                ways.append(lengths)
    if longest_nm is not None and length_nm > longest_nm:
        ways += _full_and_rest(length_nm, longest_nm, least_joint_nm, material)
    if 0 < widest < length_nm:
        ways += _full_and_rest(length_nm, widest, least_joint_nm, material)
    return tuple(dict.fromkeys(ways))


def _shortest(lengths: tuple[int, ...], material: Material) -> int:
    """Return the least that a part covers between its joints."""
    return min(lengths) - 2 * half_up(material.seam_overlap_nm)


def _fewest_parts(length_nm: int, limit_nm: int, material: Material) -> int:
    parts = 1
    while max(_equal_parts(length_nm, parts, material)) > limit_nm and parts < 200:
        parts += 1
    return parts


def _full_and_rest(length_nm: int, limit_nm: int, least_joint_nm: int, material: Material) -> list[tuple[int, ...]]:
    """Return the way with lengths as long as the goods and one rest, if the rest is long enough."""
    half, step = half_up(material.seam_overlap_nm), material.cutting_step_nm
    full = limit_nm // step * step
    gain = full - 2 * half
    if gain < max(1, least_joint_nm):
        return []
    count = (length_nm - 2 * half) // gain
    rest = length_nm - count * gain
    if count < 1 or rest - half < least_joint_nm:
        return []
    return [(full,) * count + (-(-rest // step) * step,)]


def _cuts(
    kind: CutKind, owner: str, name: str, item: int, width_nm: int, lengths: tuple[int, ...], material: Material
) -> Cuts:
    step = material.cutting_step_nm
    width = -(-width_nm // step) * step
    return tuple(
        Cut(
            id=f"{owner}-{number}",
            number=0,
            kind=kind,
            owner=owner,
            label=name if len(lengths) == 1 else f"{name} part {number}",
            rects=(Rect(0, 0, width, length),),
            of_item=item,
        )
        for number, length in enumerate(lengths, start=1)
    )
