"""Photos of more sides of one clump: which tuber is which, and what they add."""

from eyefind.sides.far import Far, plan_of_all, read_far
from eyefind.sides.match import match
from eyefind.sides.pairs import Pairs, pair_words, read_pairs
from eyefind.sides.suggest import Suggestion, suggest

__all__ = [
    "Far",
    "Pairs",
    "Suggestion",
    "match",
    "pair_words",
    "plan_of_all",
    "read_far",
    "read_pairs",
    "suggest",
]
