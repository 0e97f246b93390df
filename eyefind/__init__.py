"""Find likely eyes on a photographed dahlia crown and suggest where to cut.

The folders follow the way of the data:
``photo`` -> ``look`` -> ``review`` -> ``plan`` -> ``sheet``.
"""

__version__ = "0.1.0"
