"""Which breadths of a layout get cross seams: none, those that need them, or one that may have them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nesting.domain.rules import RuleId
from nesting.seams.crossings import Breadth, Levels, breadth_of, equal_levels, levels_at, splits
from nesting.seams.drafts import Trial, bounds_of
from nesting.seams.pieces import Bounds
from nesting.seams.positions import Seams

MOST_SPLIT = 3
"""Breadths of a layout, the narrowest first, that are tried with cross seams they do not need."""


def splits_of(trial: Trial, seams: Seams) -> Iterator[tuple[Levels, ...]]:
    """Yield cross seams for every breadth of a layout: the fewest first, then splits that may save goods."""
    bounds = bounds_of(seams)
    none: tuple[Levels, ...] = ((),) * len(bounds)
    most = trial.room.rules.cross_seams_per_breadth if trial.room.rules.holds(RuleId.CROSS_SEAMS) else 3
    longest = trial.longest_nm
    too_long = [
        longest is not None and any(piece.box.length_nm > longest for piece in trial.bench.pieces(across))
        for across in bounds
    ]
    if most == 0 and not any(too_long):
        yield none
        return
    breadths = [breadth_of(trial.bench, across, trial.along_phase_nm) for across in bounds]
    if not any(too_long):
        yield none
        yield from _free_splits(trial, breadths, none, most)
        return
    assert longest is not None
    if not trial.room.rules.forced_cross_seams and most == 0:
        over = max(breadth.longest.box.length_nm for breadth in breadths) - longest
        trial.faults.add(RuleId.CROSS_SEAMS, over)
        return
    allowed = [max(most, forced_parts(trial, across) - 1) for across in bounds]
    for way in _forced_splits(trial, breadths, too_long, longest):
        if trial.goods.unnamed is None or all(len(levels) <= many for levels, many in zip(way, allowed, strict=True)):
            yield way
        else:
            trial.faults.add(RuleId.CROSS_SEAMS)


def forced_parts(trial: Trial, across: Bounds) -> int:
    """Return the fewest parts of a breadth that is longer than the longest goods; 0: it is not."""
    longest = trial.forcing_nm
    length = max(piece.box.length_nm for piece in trial.bench.pieces(across))
    if longest is None or length <= longest or not trial.room.rules.forced_cross_seams:
        return 0
    each = longest - 2 * trial.bench.seam_nm
    return -(-length // each) if each > 0 else 0


def has_lawful_counts(trial: Trial, seams: Seams, crossings: Sequence[Levels]) -> bool:
    """Tell whether no breadth has more cross seams than it may have, allowed or forced."""
    rules = trial.room.rules
    if not rules.holds(RuleId.CROSS_SEAMS):
        return True
    pairs = zip(bounds_of(seams), crossings, strict=True)
    return all(
        len(levels) <= rules.cross_seams_per_breadth or len(levels) <= forced_parts(trial, across) - 1
        for across, levels in pairs
        if levels
    )


def _free_splits(
    trial: Trial, breadths: Sequence[Breadth], none: tuple[Levels, ...], most: int
) -> Iterator[tuple[Levels, ...]]:
    """Yield the splits of one breadth at a time."""
    lengths = _lengths(trial)
    narrow = sorted(range(len(breadths)), key=lambda i: (breadths[i].width_nm, i))[:MOST_SPLIT]
    for i in narrow:
        for levels in dict.fromkeys(splits(trial.bench, breadths[i], most, lengths)):
            yield (*none[:i], levels, *none[i + 1 :])


def _forced_splits(
    trial: Trial, breadths: Sequence[Breadth], too_long: Sequence[bool], longest: int
) -> Iterator[tuple[Levels, ...]]:
    """Yield splits with the fewest cross seams in every breadth that is longer than the longest goods.

    Every breadth starts its list of ways at another place, so that neighbours keep their cross seams apart.
    """
    ways = [
        _forced_ways(trial, breadth, longest) if forced else [()]
        for breadth, forced in zip(breadths, too_long, strict=True)
    ]
    if not all(ways):
        trial.faults.add(RuleId.CROSS_SEAMS)
        return
    for first in range(max(map(len, ways))):
        chosen: list[Levels] = []
        for i, options in enumerate(ways):
            turned = [options[(first + i + j) % len(options)] for j in range(len(options))]
            chosen.append(next((levels for levels in turned if not chosen or _apart(trial, chosen[-1], levels)), ()))
        if all(levels or not forced for levels, forced in zip(chosen, too_long, strict=True)):
            yield tuple(chosen)
        else:
            trial.faults.add(RuleId.CROSS_SEAM_STAGGER)


def _forced_ways(trial: Trial, breadth: Breadth, longest: int) -> list[Levels]:
    """Return the ways to cut a breadth to lengths that there are, all with the fewest cross seams."""
    # pieces of a patterned room from two rolls bind each other's phase, which costs the rolls a repeat
    sure = longest - trial.anchor_loss_nm if longest > 2 * trial.anchor_loss_nm else longest
    found = [levels_at(trial.bench, breadth, sure, from_top=top) for top in (False, True)]
    fewest = min((len(levels) for levels in found if levels), default=0)
    extremes = found
    found = [*_in_any_phase(trial, breadth, sure), *extremes]
    each = sure - 2 * trial.bench.seam_nm
    whole = breadth.longest.box.length_nm - 2 * trial.bench.seam_nm
    rules = trial.room.rules
    most = max(rules.cross_seams_per_breadth, -(-whole // each) - 1 if each > 0 else 0)
    if not fewest or (fewest > most and rules.holds(RuleId.CROSS_SEAMS)):
        return []  # no more than the lengths of the goods call for, whatever else is in the way
    lengths = [length for length in _lengths(trial) if length <= longest]
    found.append(equal_levels(trial.bench, breadth, fewest + 1))
    for length in lengths:
        found += [levels_at(trial.bench, breadth, length, from_top=top) for top in (False, True)]
    # places between the two extremes, for neighbours that must keep apart
    low, high = extremes
    if low is not None and high is not None and len(low) == len(high):
        for part in (1, 2, 3):
            between = tuple(a + (b - a) * part // 4 for a, b in zip(low, high, strict=True))
            found.append(between if all(_is_allowed(breadth, level) for level in between) else None)
    return [levels for levels in dict.fromkeys(found) if levels and len(levels) == fewest]


def _in_any_phase(trial: Trial, breadth: Breadth, sure: int) -> list[Levels | None]:
    """Return ways that leave no piece so long that the pattern lets it lie at one place of the longest goods only.

    A piece that may begin anywhere within a repeat needs goods longer by a repeat, less a step.
    """
    pattern = trial.material.pattern
    if pattern is None:
        return []
    length = sure - pattern.along_nm + trial.bench.grid.step_nm
    return [levels_at(trial.bench, breadth, length, from_top=top) for top in (False, True)] if length > 0 else []


def _is_allowed(breadth: Breadth, level: int) -> bool:
    return any(low <= level <= high for low, high in breadth.allowed)


def _apart(trial: Trial, one: Levels, other: Levels) -> bool:
    rules = trial.room.rules
    if not rules.holds(RuleId.CROSS_SEAM_STAGGER):
        return True
    return all(abs(a - b) >= rules.cross_seam_stagger_nm for a in one for b in other)


def _lengths(trial: Trial) -> tuple[int, ...]:
    """Return the lengths of goods at which a split may fall, the longest first."""
    lengths = {length for _, length in trial.goods.stock_nm}
    if trial.order_length_nm:
        lengths.add(trial.order_length_nm)
    if trial.anchor_loss_nm:
        lengths |= {length - trial.anchor_loss_nm for length in lengths}
    if trial.room.access.longest_nm is not None:
        lengths.add(trial.room.access.longest_nm)
    return tuple(sorted((length for length in lengths if length > 0), reverse=True)[:6])
