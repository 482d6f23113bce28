"""The most probable combinations of causes, which marginals cannot show: "these two together"."""

import heapq
import math
from dataclasses import dataclass

import numpy as np

from consults.diagnosis.inference import absorb, believe, prepare
from consults.diagnosis.network import Evidence, Floats, Network, locate

MAX_NODES = 20_000  # a search this long is stopped; what was found until then is still right


@dataclass(frozen=True)
class Combination:
    """Exactly these causes are true and all others are not; no cause at all is a combination too."""

    causes: tuple[str, ...]
    probability: float


@dataclass(frozen=True, eq=False)
class _Node:
    """All sets that hold `chosen` and any of `open`; `value` is the log-weight of `chosen` alone."""

    chosen: tuple[int, ...]
    open: tuple[int, ...]
    value: float


def combinations(network: Network, evidence: Evidence, limit: int = 5) -> list[Combination]:
    """Return the `limit` most probable sets of causes with P(exactly this set | evidence), in falling order.

    Best-first search. The log-weight of a set is its log-odds plus, for every present finding, log f(x)
    with x the sum of what the causes add (see `bounds`). As log f is concave, a cause adds less to a
    larger set, so the gain of several causes together is at most the sum of their single gains. Hence no
    set below a node is heavier than its value plus the sum of the positive single gains, and sets leave
    the queue in falling order of probability. Fewer are returned when the search would exceed 20,000
    nodes. Probabilities are exact when the posterior is. Raises `UnknownCodeError`, `EvidenceError`, and
    `ValueError` for a limit below 1.
    """
    if limit < 1:
        raise ValueError(f"The limit is {limit}; at least 1 is needed.")
    located = locate(network, evidence)
    base, constant = absorb(network, located)
    log_evidence = float(believe(prepare(network, located), base, constant).log_evidence[0])
    search = _Search(network, located.present, base[0])
    none_true = float(constant[0]) - float(np.logaddexp(0.0, base[0]).sum())
    return [
        Combination(
            tuple(sorted(network.causes[at] for at in chosen)),
            math.exp(min(0.0, value + none_true - log_evidence)),
        )
        for value, chosen in search.heaviest(limit)
    ]


class _Search:
    def __init__(self, network: Network, present: np.ndarray, log_odds: Floats) -> None:
        self._log_odds = log_odds
        self._unlisted = -network.log_leak_miss[present]
        self._pushes = -network.log_miss[:, present]
        self._queue: list[tuple[float, tuple[int, ...], int, _Node]] = []
        self._pushed = 0

    def heaviest(self, limit: int) -> list[tuple[float, tuple[int, ...]]]:
        found: list[tuple[float, tuple[int, ...]]] = []
        root = _Node((), tuple(range(len(self._log_odds))), self._finding_weight(self._unlisted))
        self._push(root, math.inf)
        while self._queue and len(found) < limit and self._pushed < MAX_NODES:
            self._open(heapq.heappop(self._queue)[-1], found)
        return found

    def _push(self, node: _Node, bound: float) -> None:
        self._pushed += 1
        heapq.heappush(self._queue, (-bound, node.chosen, self._pushed, node))

    @staticmethod
    def _finding_weight(push: Floats) -> float:
        return float(np.log(-np.expm1(-push)).sum())

    def _open(self, node: _Node, found: list[tuple[float, tuple[int, ...]]]) -> None:
        """Tighten the bound of a node, and if it is still the best, split it or take its lightest set."""
        still_open = np.array(node.open, dtype=np.intp)
        push = self._unlisted + self._pushes[list(node.chosen)].sum(axis=0)
        now = np.log(-np.expm1(-push))
        then = np.log(-np.expm1(-(push + self._pushes[still_open])))
        gains = self._log_odds[still_open] + (then - now).sum(axis=1)
        positive = np.maximum(gains, 0.0)
        bound = node.value + float(positive.sum())
        if self._queue and bound < -self._queue[0][0]:
            self._push(node, bound)
            return
        order = np.argsort(-gains, kind="stable")
        if len(order) == 0 or gains[order[0]] <= 0:
            found.append((node.value, node.chosen))
        self._split(node, still_open[order].tolist(), gains[order], bound)

    def _split(self, node: _Node, ranked: list[int], gains: Floats, bound: float) -> None:
        for at, cause in enumerate(ranked):
            rest, value = tuple(ranked[at + 1 :]), node.value + float(gains[at])
            later = float(np.maximum(gains[at + 1 :], 0.0).sum())
            self._push(_Node((*node.chosen, cause), rest, value), value + later)
            if at == 0 and gains[0] > 0:
                self._push(_Node(node.chosen, rest, node.value), bound - float(gains[0]))
                return
