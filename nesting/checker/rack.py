"""V5i: what the plan takes from the value of goods in hand, by the job's rule."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import floor

from nesting.checker.facts import View
from nesting.checker.findings import Finding
from nesting.domain.plan import CutSource, SourceKind
from nesting.domain.rules import ValueRule

QUARTER = Fraction(1, 4)


def check_rack(view: View) -> Iterator[Finding]:
    """V5i: the value used up is that of all goods in hand that are used, less that of what is left beyond their cuts.

    What was cut or gone before counts for neither. A plan that was made before there was such a rule says nothing.
    """
    given = view.part.measures.rack_nm2
    if given is None:
        return
    value = sum(_lost(view, source) for source in view.part.sources if source.kind is not SourceKind.ORDER)
    if given != value:
        where = f"material {view.material.id}"
        yield Finding(
            rule="V5i", where=where, text=f"the value of goods in hand used up is {value} nm², not {given} nm²"
        )


def _lost(view: View, source: CutSource) -> int:
    """Return by how much the value of one piece in hand falls, nm²."""
    cuts = view.on_source[source.id]
    before = [rect.y1_nm for rect in source.gone]
    before += [rect.y1_nm for cut in cuts if cut.id in view.done for rect in view.lying[cut.id]]
    begun = max(before, default=0)
    far = max([begun, *(rect.y1_nm for cut in cuts for rect in view.lying[cut.id])])
    return _value(view, source.width_nm, source.length_nm - begun) - _value(
        view, source.width_nm, source.length_nm - far
    )


def _value(view: View, width_nm: int, length_nm: int) -> int:
    """Return the value of a rectangle: a quarter of its area up to the small one, and in full what is beyond."""
    rules = view.job.offcuts
    short, long = sorted((width_nm, length_nm))
    if rules.value is ValueRule.NONE or not any(short >= min(size) and long >= max(size) for size in rules.sizes_nm):
        return 0
    area = width_nm * length_nm
    small = min(area, rules.small_nm2) if rules.value is ValueRule.BY_SIZE else 0
    return floor(QUARTER * small + (area - small))
