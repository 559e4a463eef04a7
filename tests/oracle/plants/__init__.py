"""Random small plants for the oracle: lists of an invented plant and the pages of a night, made from one seed.

Everything is invented. A plant is small and crowded on purpose: borders are met exactly, and what is rare on a floor
happens in every second plant.
"""

from tests.oracle.plants.night import Plant, make_plant

__all__ = ["Plant", "make_plant"]
