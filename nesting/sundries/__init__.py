"""Sundries from a plan's own areas and lengths: what is needed, packs to buy, what is left over, what it costs."""

from nesting.sundries.listing import SundryLine, SundryList, SundryWarning, sundries_of
from nesting.sundries.words import SundryWords, cutting_words, sundry_words

__all__ = [
    "SundryLine",
    "SundryList",
    "SundryWarning",
    "SundryWords",
    "cutting_words",
    "sundries_of",
    "sundry_words",
]
