"""The independent checker: proves a plan from its own data, sharing no code with the planner.

It imports the domain's frozen data and the standard library only, and computes in whole numbers and fractions.
What the words mean is in DEVELOPERS.md, "Exact meanings".

====  ====================================================================================
rule  what holds
====  ====================================================================================
V1a   one plan for every material in use; ids unique and known; the job's data sane
V1b   layouts, cuts, places, sources, groups, offcuts, orders refer to what is there, once
V1c   rough cuts are disjoint rectangles of positive whole sizes; cuts have a number each
V1d   the recorded floor and holes are the room's own, turned, to within 2 nm
V1e   seams stand in order, and their recorded runs are where they lie on the floor
V1f   every connected part of every cell is covered by exactly one drop
V1g   a drop records each edge of its part, with an allowance full or lawfully less
V1h   the rough cut holds the part with its allowances and corners
V1i   a hole inside a piece has a relief cut; there are no others
V1j   the drops of a phase group lie on one grid of cutting steps
V1k   every outside corner between two coved walls has an insert; there are no others
V1l   two coved walls of a piece share no goods with each other or with its floor
V1m   every loose piece is cut as often, as large and in as few parts as asked for
V1n   every run of every strip is cut in full, with joints no closer than allowed
V2a   every piece lies inside its source and beyond the start allowance
V2b   no two pieces of a source overlap
V2c   no piece touches a flaw or goods that are gone
V2d   a source is the piece in hand that it names, or an order that starts as it must
V2e   no selvedge comes into a seam, nor further into a piece than its trim
V3a   the pattern agrees on both sides of every seam and cross seam
V3b   a room is in the phase group of just the rooms it matches, at its phase, as pinned
V3c   goods of unknown phase that are bound lose their allowance for it
V3d   a source's phase is the known one, or the one assumed
V3e   a placed pattern lies where the user wants it
V3f   seams run on the material's seam lines
V4a   rooms are laid in a direction that they allow, tied rooms in one
V4b   seams keep clear of parallel joints below
V4c   no seam runs through a keep-out zone
V4d   no seam ends inside a door opening that the goods can bridge
V4e   no breadth beside a seam is narrower than the least
V4f   no more cross seams in a breadth than allowed or forced
V4g   no piece that ends at a cross seam is shorter than the least length
V4h   cross seams of neighbouring breadths are staggered
V4i   every cut of a room gets into it
V4j   pieces are turned only as the goods allow
V4k   goods laid in sequence come off the roll in lay order, done cuts aside
V4l   the rolls ordered for one room are of one width
V4m   rooms, and rooms that match, are cut from one lot
V4n   what is ordered is of one lot, new or orderable, within its supply
V4o   what is ordered can be: in a width and no longer than made
V4p   there are no more seams than the goal's cap
V4q   where bench cuts are asked for, every source can be cut by them
V4r   what a plan needs consent for belongs to someone in the job
V4s   a pinned seam lies where it is pinned, to half a cutting step
V4t   a pinned layout has its direction, seams and cross seams, and no others
V4u   a room has no more seams than it was allowed
V4v   a room is cut from the goods named for it and nothing else
V4w   rooms wanted of one lot are cut from one lot
V4x   what was cut lies where and as it was cut
V5a   the used length runs from the start allowance to the far end of the last piece
V5b   the ordered length is the needed one, rounded as the goods are sold
V5c   ordered rolls cost their price and cut charge, goods in hand their book value
V5d   the order lists just the rolls to order, none while consent is needed
V5e   the account of the goods that are there is recomputed and adds up exactly
V5f   the measures are recomputed
V5g   an offcut lies free inside its source, is worth keeping, and of its lot
V5h   an offcut's phase is its source's at its corner
V5i   the value of goods in hand that is used up is recomputed by the job's rule
V6a   every bound is for a level of the goal and does not exceed the plan
V6b   what a bound says the plan attains is what it measures
V6c   a bound not found by search has a certificate that recomputes
V6d   what the hand method would order is of made widths and not below the bound
====  ====================================================================================
"""

from nesting.checker.checking import check_plan
from nesting.checker.table import RULES

__all__ = ["RULES", "check_plan"]
