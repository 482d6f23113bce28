"""Checks that protect other plants come first: is it the thing that spreads? Pure: no Django, no database."""

from collections.abc import Iterable, Mapping

from consults.cases.effort import per_minute
from consults.diagnosis.network import Network
from consults.diagnosis.outlook import Ahead
from consults.ruleset.loader import Ruleset

# Judgement: from this probability a contagious cause is plausible, and below the second it is not yet so
# sure that looking is idle.
PLAUSIBLE = (0.1, 0.9)
CONFIRMING_BITS = 0.02  # below it a look settles nothing about the cause


def protecting_checks(
    network: Network, ahead: Ahead, ruleset: Ruleset, allowed: Iterable[str]
) -> Mapping[str, str]:
    """Return {finding: contagious cause it would confirm or clear}, likeliest cause first.

    For every contagious cause whose probability lies within `PLAUSIBLE`: the finding among `allowed` that
    the cause itself shows and that settles most about it per minute, if it settles anything.
    """
    plausible = [
        (-float(ahead.marginals[at]), code, at)
        for at, code in enumerate(network.causes)
        if ruleset.causes[code].contagious and PLAUSIBLE[0] <= ahead.marginals[at] < PLAUSIBLE[1]
    ]
    allowed = [code for code in allowed if code in ahead.findings]
    found: dict[str, str] = {}
    for _, cause, at in sorted(plausible):
        confirming = _confirming(network, ahead, ruleset, at, [code for code in allowed if code not in found])
        if confirming is not None:
            found[confirming] = cause
    return found


def _confirming(network: Network, ahead: Ahead, ruleset: Ruleset, at: int, allowed: list[str]) -> str | None:
    rated = []
    for code in allowed:
        if network.strength[at, network.finding_index[code]] > 0:
            bits = ahead.findings[code].bits([at])
            if bits >= CONFIRMING_BITS:
                rated.append((-per_minute(bits, ruleset.findings[code].minutes), code))
    return min(rated)[1] if rated else None
