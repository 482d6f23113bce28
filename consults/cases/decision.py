"""What to do as things stand, and whether an answer would change it. Pure: no Django, no database."""

from dataclasses import dataclass

import numpy as np

from consults.diagnosis import NONE_OF_THESE
from consults.diagnosis.fit import ENOUGH
from consults.diagnosis.network import Floats, Network
from consults.diagnosis.outlook import Outlook
from consults.ruleset.loader import Ruleset


@dataclass(frozen=True)
class Decision:
    """The first cause (or none of these), and the causes probable enough to act on (0.35 or more)."""

    first: str
    acted_on: tuple[str, ...]

    def actions(self, ruleset: Ruleset) -> frozenset[str]:
        """Codes of all actions that the causes acted on ask for."""
        return frozenset(action.code for cause in self.acted_on for action in ruleset.causes[cause].actions)


def decide(network: Network, marginals: Floats, none: float) -> Decision:
    """Return the decision under beliefs (C,) and P(no cause); ties go to the first code."""
    best = int(np.argmax(marginals))
    first = NONE_OF_THESE if none > marginals[best] else network.causes[best]
    return Decision(first, tuple(network.causes[at] for at in np.flatnonzero(marginals >= ENOUGH)))


def same_deed(one: Decision, other: Decision, ruleset: Ruleset) -> bool:
    """Whether two decisions name the same first cause and come to the same set of actions."""
    return one.first == other.first and (
        one.acted_on == other.acted_on or one.actions(ruleset) == other.actions(ruleset)
    )


def decisions_after(network: Network, outlook: Outlook) -> list[Decision]:
    """Return the decision after each answer of a check."""
    return [
        decide(network, row, float(none)) for row, none in zip(outlook.marginals, outlook.none, strict=True)
    ]
