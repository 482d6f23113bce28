"""The answers by going through every combination of causes, and random networks to ask about.

Shares nothing with the engine but the definition of noisy-OR: P(seen | causes) = 1 - (1 - leak) prod (1 -
q).
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from consults.diagnosis.network import Evidence, Network


@dataclass(frozen=True)
class Truth:
    sets: np.ndarray  # (2^C, C) of 0 and 1
    weights: np.ndarray  # (2^C,) P(set and evidence)

    @property
    def evidence(self):
        return float(self.weights.sum())

    @property
    def marginals(self):
        return self.weights @ self.sets / self.weights.sum()

    @property
    def none(self):
        return float(self.weights[0] / self.weights.sum())

    def entropy(self):
        total = 0.0
        for p in self.marginals:
            total -= sum(x * math.log2(x) for x in (p, 1 - p) if x > 0)
        return total


def enumerate_all(network, evidence):
    odds = np.array([p / (1 - p) for p in network.prior])
    odds = odds * np.array([evidence.odds.get(code, 1.0) for code in network.causes])
    prior = odds / (1 + odds)
    sets = np.array(list(itertools.product([0, 1], repeat=len(prior))))
    weights = np.prod(np.where(sets == 1, prior, 1 - prior), axis=1)
    miss = np.log1p(-network.leak) + sets @ np.log1p(-network.strength)
    for at, code in enumerate(network.findings):
        if code in evidence.present:
            weights = weights * -np.expm1(miss[:, at])
        elif code in evidence.absent:
            weights = weights * np.exp(miss[:, at])
    return Truth(sets, weights)


def network_of(prior, leak, strength):
    strength = np.array(strength, dtype=float)
    causes = tuple(f"cause-{at:02d}" for at in range(strength.shape[0]))
    findings = tuple(f"finding-{at:02d}" for at in range(strength.shape[1]))
    return Network(causes, findings, np.array(prior), np.array(leak), strength)


@st.composite
def networks(draw, max_causes=6, max_findings=7):
    causes = draw(st.integers(1, max_causes))
    findings = draw(st.integers(1, max_findings))
    strengths = st.one_of(st.just(0.0), st.floats(0.01, 0.99), st.sampled_from([1e-9, 0.999999]))
    rows = st.lists(strengths, min_size=findings, max_size=findings)
    return network_of(
        draw(st.lists(st.floats(1e-4, 0.95), min_size=causes, max_size=causes)),
        draw(
            st.lists(
                st.one_of(st.floats(0.005, 0.1), st.sampled_from([1e-6, 0.5])),
                min_size=findings,
                max_size=findings,
            )
        ),
        draw(st.lists(rows, min_size=causes, max_size=causes)),
    )


@st.composite
def cases(draw, **sizes):
    """A network and any evidence on it, coherent or not."""
    network = draw(networks(**sizes))
    looks = draw(
        st.lists(
            st.sampled_from(["present", "absent", "unknown"]),
            min_size=len(network.findings),
            max_size=len(network.findings),
        )
    )
    factors = st.one_of(st.just(1.0), st.floats(1 / 64, 64))
    odds = draw(st.lists(factors, min_size=len(network.causes), max_size=len(network.causes)))
    return network, Evidence(
        frozenset(code for code, look in zip(network.findings, looks, strict=True) if look == "present"),
        frozenset(code for code, look in zip(network.findings, looks, strict=True) if look == "absent"),
        dict(zip(network.causes, odds, strict=True)),
    )


def random_network(seed, causes, findings, touched=(2, 4)):
    random = np.random.default_rng(seed)
    strength = np.zeros((causes, findings))
    for row in strength:
        count = random.integers(touched[0], touched[1] + 1)
        row[random.choice(findings, count, replace=False)] = random.uniform(0.2, 0.95, count)
    prior = np.exp(random.uniform(math.log(0.005), math.log(0.15), causes))
    return network_of(prior, random.uniform(0.005, 0.05, findings), strength)
