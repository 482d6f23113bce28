"""Published networks, as far as two layers of noisy-OR can express them.

A node that is no noisy-OR of its parents is conditioned on: the engine answers for each state of the
others, and the answers are put together by the rule of total probability, which needs P(evidence) as well
as the marginals. The posteriors were computed with pgmpy 1.0.4 from the network files it ships; this engine
has no part in them.
"""

import itertools

import pytest

from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Network


def strength(if_true: float, leak: float) -> float:
    """Strength of a cause that raises P(finding) from the leak to `if_true`."""
    return 1 - (1 - if_true) / (1 - leak)


# --- Earthquake: K. Korb and A. Nicholson, Bayesian Artificial Intelligence ---------------------------
# Tables from memory: P(B) .01, P(E) .02; alarm .95 (B and E), .94 (B), .29 (E), .001 (neither);
# John .90 with alarm, .05 without; Mary .70 and .01.
ALARM = {(1, 1): 0.95, (1, 0): 0.94, (0, 1): 0.29, (0, 0): 0.001}


def burglary_given(calls: set[str], earthquake: bool | None = None) -> float:
    """P(burglary | calls, earthquake): calls depend on the burglary through the alarm only."""
    quakes = {None: {0: 0.98, 1: 0.02}, True: {1: 1.0}, False: {0: 1.0}}[earthquake]
    joint = {
        burglary: sum(
            (0.01 if burglary else 0.99) * chance * ALARM[burglary, quake] for quake, chance in quakes.items()
        )
        for burglary in (0, 1)
    }
    alarm = joint[0] + joint[1]
    network = Network(
        ("alarm",), ("john", "mary"), [alarm], [0.05, 0.01], [[strength(0.9, 0.05), strength(0.7, 0.01)]]
    )
    rings = posterior(network, Evidence(frozenset(calls))).marginals["alarm"]
    return rings * joint[1] / alarm + (1 - rings) * (0.01 - joint[1]) / (1 - alarm)


@pytest.mark.parametrize(
    ("calls", "earthquake", "expected"),
    [({"john"}, None, 0.133314), ({"john", "mary"}, None, 0.556522), ({"john", "mary"}, True, 0.031971)],
)
def test_the_earthquake_explains_the_calls_away(calls, earthquake, expected):
    assert burglary_given(calls, earthquake) == pytest.approx(expected, abs=1e-6)


# --- Asia: S. Lauritzen and D. Spiegelhalter, Journal of the Royal Statistical Society B 50:157, 1988 ---
TUB, LUNG, BRONC = {1: 0.05, 0: 0.01}, {1: 0.1, 0: 0.01}, {1: 0.6, 0: 0.3}
DYSP = {1: (0.8, 0.9), 0: (0.1, 0.7)}  # by bronchitis: without and with tuberculosis or cancer


def asia(asia_chance: float, smoke_chance: float, present: set[str]) -> tuple[float, float, float, float]:
    """P(tuberculosis), P(lung cancer), P(bronchitis) given the findings present; and P(findings)."""
    total = tub_seen = lung_seen = bronc_seen = 0.0
    for visit, smoke, bronc in itertools.product((0, 1), repeat=3):
        weight = asia_chance if visit else 1 - asia_chance
        weight *= smoke_chance if smoke else 1 - smoke_chance
        weight *= BRONC[smoke] if bronc else 1 - BRONC[smoke]
        tub, lung = TUB[visit], LUNG[smoke]
        either = 1 - (1 - tub) * (1 - lung)
        leak, if_true = DYSP[bronc]
        network = Network(
            ("either",), ("dysp", "xray"), [either], [leak, 0.05],
            [[strength(if_true, leak), strength(0.98, 0.05)]],
        )  # fmt: skip
        result = posterior(network, Evidence(frozenset(present)))
        weight *= 10**result.log10_evidence
        total += weight
        tub_seen += weight * result.marginals["either"] * tub / either
        lung_seen += weight * result.marginals["either"] * lung / either
        bronc_seen += weight * bronc
    return tub_seen / total, lung_seen / total, bronc_seen / total, total


@pytest.mark.parametrize(
    ("visit", "smoke", "present", "tub", "lung", "bronc"),
    [
        (0.01, 0.5, set(), 0.0104, 0.055, 0.45),
        (1.0, 0.5, {"dysp"}, 0.087751, 0.099525, 0.811402),
        (1.0, 0.0, {"dysp"}, 0.112835, 0.022567, 0.717942),
        (1.0, 0.5, {"dysp", "xray"}, 0.391712, 0.444271, 0.628822),
    ],
)
def test_breathless_after_a_journey_to_asia(visit, smoke, present, tub, lung, bronc):
    assert asia(visit, smoke, present)[:3] == pytest.approx((tub, lung, bronc), abs=1e-6)


@pytest.mark.parametrize(("present", "chance"), [({"xray"}, 0.11029), ({"dysp"}, 0.435971)])
def test_the_chance_of_a_finding_before_anything_is_known(present, chance):
    assert asia(0.01, 0.5, present)[3] == pytest.approx(chance, abs=1e-6)
