"""Drawing from whole numbers, the same for the same seed."""

import random
from collections.abc import Mapping, Sequence

THOUSAND = 1_000


class Dice:
    """Chances in thousandths and spreads in whole numbers."""

    def __init__(self, seed: str) -> None:
        self._random = random.Random(seed)

    def hits(self, thousandths: int) -> bool:
        """Whether something happens that happens so many times in a thousand."""
        return self._random.randrange(THOUSAND) < thousandths

    def near(self, mean: int, spread: int) -> int:
        """Draw around a mean, as a normal distribution with this spread."""
        return round(self._random.gauss(mean, spread))

    def within(self, mean: int, spread: int, least: int, most: int) -> int:
        """Draw around a mean, never outside its bounds."""
        return min(most, max(least, self.near(mean, spread)))

    def between(self, least: int, most: int) -> int:
        """Draw one of the whole numbers between two, both included."""
        return self._random.randint(least, most)

    def weighted(self, weights: Mapping[str, int]) -> str:
        """Draw a name by its weight."""
        return self._random.choices(list(weights), weights=list(weights.values()))[0]

    def shuffled(self, names: Sequence[str]) -> list[str]:
        """Give names in another order."""
        return self._random.sample(list(names), len(names))
