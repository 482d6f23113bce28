"""What a habit bears on: the group of the causes whose odds it moves most. Pure."""

import math
from collections import defaultdict
from collections.abc import Mapping
from functools import lru_cache

from consults.ruleset.loader import Ruleset


@lru_cache(maxsize=8)
def practice_groups(ruleset: Ruleset) -> Mapping[str, str]:
    """Return the cause group of every practice that a cause speaks of.

    The group with the greatest sum of |log2 odds factor| over its causes; ties go to the first by name.
    """
    weight: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for cause in ruleset.causes.values():
        for link in cause.practices:
            weight[link.practice][cause.group] += abs(math.log2(link.if_true))
    return {code: min(sums, key=lambda group: (-sums[group], group)) for code, sums in weight.items()}
