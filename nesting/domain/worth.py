"""What goods in hand are worth on the rack, so that a small remnant serves before a large one is cut into."""

from __future__ import annotations

from collections.abc import Sequence

from nesting.domain.geometry import Rect
from nesting.domain.plan import CutSource
from nesting.domain.rules import OffcutRules, ValueRule


def worth_nm2(rules: OffcutRules, width_nm: int, length_nm: int) -> int:
    """Return the value of a rectangle of goods in hand, nm² of goods valued in full.

    It is 0 where no size worth keeping fits, else

        max(A / 4, A − 3/4 · S),    A = width · length,

    rounded down: of the first S = `rules.small_nm2` of a piece only a quarter counts (by area: S = 0; with the rule
    `none` everything is worth 0). Value per area never falls as a piece grows, and what is worth keeping stays so, so
    that cutting a piece in two never raises the sum: one large remnant serves more than two halves of it.
    """
    least = least_length_nm(rules, width_nm)
    if rules.value is ValueRule.NONE or least is None or length_nm < least:
        return 0
    area = width_nm * length_nm
    small = rules.small_nm2 if rules.value is ValueRule.BY_SIZE else 0
    return max(area, 4 * area - 3 * small) // 4


def least_length_nm(rules: OffcutRules, width_nm: int) -> int | None:
    """Return the length from which goods so wide are worth keeping, None where they are too narrow at any length."""
    ways = [way for size in rules.sizes_nm for way in (size, size[::-1])]
    return min((along for across, along in ways if across <= width_nm), default=None)


def begun_nm(cut: Sequence[Rect], gone: Sequence[Rect]) -> int:
    """Return up to where goods in hand count as cut into before: the far end of what is cut or gone of them."""
    return max((rect.y1_nm for rect in (*cut, *gone)), default=0)


def used_up_nm2(rules: OffcutRules, source: CutSource, begun: int) -> int:
    """Return by how much a plan lowers the value of a piece in hand that it uses, nm².

    The value of all that lay beyond `begun` (see `begun_nm`) less that of what is left beyond the last cut, each a
    rectangle over the whole width. What is left beside the cuts, flaws, and what an unknown phase may take off the far
    end are not looked at: they are told from the drawing, and would make a rule that nobody can follow.
    """
    left = source.length_nm - max(source.used_nm, begun)
    return worth_nm2(rules, source.width_nm, source.length_nm - begun) - worth_nm2(rules, source.width_nm, left)
