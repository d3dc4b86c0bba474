"""What a cut weighs, and how many people should lift it."""

from __future__ import annotations

import math
from fractions import Fraction

from nesting.domain.layout import Cut
from nesting.domain.material import Material
from nesting.units import format_weight

NM2_PER_M2 = 10**18

ONE_PERSON_G = 23_000
"""What one person lifts at most, under the best conditions: the load constant of the revised NIOSH lifting equation,
23 kg or 51 lb (DHHS (NIOSH) publication 94-110). The British guideline figure for men is higher, 25 kg (HSE L23)."""

TEAM_SHARES = (Fraction(1), Fraction(2, 3), Fraction(1, 2))
"""What a team of one, two, three can lift as a share of the sum of its members: HSE L23, guidance on team handling.
For larger teams the share of three is taken, for want of a published one."""

LARGEST_TEAM = 4
"""Teams of more than four are unlikely to work well (HSE L23)."""

LIFT_SOURCE = (
    "NIOSH publication 94-110: 23 kg (51 lb) for one person with a good grip, close to the body, hands at about 75 cm "
    "(30 in); HSE L23: a team of two lifts two thirds, of three half of what its members lift alone, and teams of more "
    "than four seldom work. Lifts from the floor, at arm's length, on stairs or with a twist: more people, or an aid."
)
"""Where the number of people comes from, and when it is too few."""


def weight_of_cut_g(cut: Cut, material: Material) -> Fraction | None:
    """Return what a cut weighs by its rough cut, in grams exactly; None where the material's weight is not known."""
    if material.weight_g_per_m2 is None:
        return None
    return material.weight_g_per_m2 * Fraction(sum(rect.area_nm2 for rect in cut.rects), NM2_PER_M2)


def people_to_lift(grams: Fraction | int) -> int:
    """Return how many people should lift so many grams: the fewest whose common share is enough, one at least.

    Source: `LIFT_SOURCE`. More than `LARGEST_TEAM` means that it is not for lifting by hand.
    """
    for number, share in enumerate(TEAM_SHARES, start=1):
        if grams <= number * share * ONE_PERSON_G:
            return number
    return math.ceil(Fraction(grams) / (TEAM_SHARES[-1] * ONE_PERSON_G))


def lift_words(grams: Fraction | int | None, unit: str) -> str:
    """Return a weight and who lifts it, in the system of a job's `unit`: `18.4 kg, 1 person`."""
    if grams is None:
        return "weight unknown: weigh it or ask the maker before lifting"
    people = people_to_lift(grams)
    weight = format_weight(grams, unit)
    if people > LARGEST_TEAM:
        return f"{weight}: too heavy to lift by hand, use a trolley or a hoist"
    return f"{weight}, {people} {'person' if people == 1 else 'people'}"
