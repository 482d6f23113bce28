"""What is quick and what is not: `python -m tests.benchmarks [--json] [--outside]`.

Times are goals printed beside what was measured on this machine, never asserted; ratios compare two ways in
one run. `--outside` also installs a general library apart and compares it (see `outside`).
"""

import json
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from functools import partial

import numpy as np

from consults.cases.casefile import CaseFile, read_case_file
from consults.cases.checks import advise
from consults.cases.interview import next_question
from consults.cases.ranking import rank_case
from consults.diagnosis.explain import explain
from consults.diagnosis.inference import posterior
from consults.diagnosis.network import Evidence, Network
from consults.diagnosis.next_check import next_checks
from consults.ruleset.compile import build_network
from consults.ruleset.loader import load_bundled
from garden.agronomy.air import vpd_air_kpa
from garden.agronomy.watering import daily_water_use_l
from garden.reference.loader import load_reference
from tests.benchmarks.outside import run_outside


@dataclass(frozen=True)
class Row:
    """One line of the table. `ok` says whether the goal was met on this machine in this run."""

    id: str
    goal: float
    got: float
    unit: str
    ok: bool | None  # None: not measured, and `note` says why
    note: str = ""


def median_ms(work: Callable[[], object], *, repeats: int = 15) -> float:
    """Median time on one core: processor time of this process, so that a busy machine does not count."""
    work()
    taken = []
    for _ in range(repeats):
        begun = time.process_time()
        work()
        taken.append((time.process_time() - begun) * 1000)
    return statistics.median(taken)


def at_most(name: str, goal: float, got: float, unit: str = "ms") -> Row:
    return Row(name, goal, round(got, 3), unit, got <= goal)


def random_network(causes: int, findings: int, seed: int = 7) -> Network:
    """A network like the bundled one: each cause shows 8 to 15 findings."""
    random = np.random.default_rng(seed)
    strength = np.zeros((causes, findings))
    for row in strength:
        shown = random.choice(findings, size=random.integers(8, 16), replace=False)
        row[shown] = random.uniform(0.2, 0.95, size=len(shown))
    return Network(
        causes=tuple(f"c{i:03d}" for i in range(causes)),
        findings=tuple(f"f{i:03d}" for i in range(findings)),
        prior=np.exp(random.uniform(np.log(0.005), np.log(0.15), size=causes)),
        leak=random.uniform(0.005, 0.05, size=findings),
        strength=strength,
    )


def brute_force(network: Network, evidence: Evidence) -> list[float]:
    """Marginals by adding up every set of causes: what the recursion is compared with."""
    causes = len(network.causes)
    sets = (np.arange(2**causes)[:, None] >> np.arange(causes)) & 1
    chance = np.where(sets, network.prior, 1 - network.prior).prod(axis=1)
    for at, code in enumerate(network.findings):
        missed = (1 - network.leak[at]) * np.where(sets, 1 - network.strength[:, at], 1).prod(axis=1)
        if code in evidence.present:
            chance *= 1 - missed
        elif code in evidence.absent:
            chance *= missed
    return list((chance[:, None] * sets).sum(axis=0) / chance.sum())


def spread_evidence(network: Network, present: int, absent: int = 15) -> Evidence:
    """Findings of a drawn case first, so that the picture hangs together as pictures do."""
    random = np.random.default_rng(present)
    boosted = np.minimum(0.5, 3 * network.prior)
    for _ in range(10_000):
        causes = random.random(len(network.causes)) < boosted
        shown = random.random(len(network.findings)) < -np.expm1(
            network.log_leak_miss + causes @ network.log_miss
        )
        if shown.sum() >= present:
            break
    codes = np.array(network.findings)
    seen = random.choice(codes[shown], present, replace=False)
    missed = random.choice(codes[~shown], absent, replace=False)
    return Evidence(frozenset(seen.tolist()), frozenset(missed.tolist()))


def inference_rows() -> list[Row]:
    network = random_network(65, 110)
    rows = []
    for present, goal in ((12, 3.0), (15, 15.0), (20, 1000.0)):
        evidence = spread_evidence(network, present)
        taken = median_ms(partial(posterior, network, evidence))
        rows.append(at_most(f"marginals-{present}-present", goal, taken))
    evidence = spread_evidence(network, 12)
    rows.append(at_most("reasons-12-present", 15.0, median_ms(lambda: explain(network, evidence, {}))))
    rows.append(at_most("next-checks-12-present", 40.0, median_ms(lambda: next_checks(network, evidence))))
    most = spread_evidence(network, 20)
    rows.append(
        at_most("reasons-20-present", 1000.0, median_ms(lambda: explain(network, most, {}), repeats=5))
    )
    small = random_network(14, 30)
    asked = Evidence(frozenset(small.findings[:8]), frozenset(small.findings[8:16]), {})
    slow = median_ms(lambda: brute_force(small, asked), repeats=3)
    quick = median_ms(lambda: posterior(small, asked))
    rows.append(
        Row("recursion-against-brute-force", 10.0, round(slow / quick, 1), "times", slow / quick >= 10)
    )
    return rows


def outside_row(*, asked: bool) -> Row:
    """How many times longer a general exact library takes for the same marginals."""
    name, goal = "recursion-against-pgmpy", 100.0
    if not asked:
        return Row(name, goal, 0.0, "times", None, "not asked: --outside")
    network = random_network(30, 60)
    evidence = spread_evidence(network, 6, 12)
    found = run_outside(network, evidence)
    if isinstance(found, str):
        return Row(name, goal, 0.0, "times", None, found)
    ours = list(posterior(network, evidence).marginals.values())
    worst = max(abs(a - b) for a, b in zip(ours, found["marginals"], strict=True))
    if worst > 1e-9:
        return Row(name, goal, 0.0, "times", False, f"the answers differ by {worst:.1e}")
    times = found["ms"] / median_ms(partial(posterior, network, evidence))
    return Row(
        name,
        goal,
        round(times, 1),
        "times",
        times >= goal,
        f"{found['ms']:.0f} ms; answers agree to {worst:.0e}",
    )


def bundled_case() -> CaseFile:
    from reports.management.commands.walkin import CASE

    return read_case_file(CASE, load_reference(), load_bundled())


def desk_rows() -> list[Row]:
    """The whole job on the bundled case, without a database."""
    ruleset, reference, case = load_bundled(), load_reference(), bundled_case()
    drawn = spread_evidence(build_network(ruleset), 12)
    signs = {"present": tuple(sorted(drawn.present)), "absent": tuple(sorted(drawn.absent))}
    many = case.model_copy(update=signs)
    return [
        at_most("rank-bundled-case", 40.0, median_ms(lambda: rank_case(case, ruleset, reference))),
        at_most("rank-12-present", 60.0, median_ms(lambda: rank_case(many, ruleset, reference))),
        at_most("every-check-12-present", 100.0, median_ms(lambda: advise(many, ruleset, reference))),
        at_most("next-question", 100.0, median_ms(lambda: next_question(case, ruleset, reference))),
        at_most("vpd", 0.05, median_ms(lambda: vpd_air_kpa(25.0, 60.0))),
        at_most("water-use", 0.2, median_ms(lambda: daily_water_use_l(300.0, 16.0, 1.2, 0.8, 25.0, 60.0))),
    ]


def bench_rows() -> list[Row]:
    """Every question of the bench on its own example, and the light map at its stated size."""
    from garden.agronomy.light_map import Lamp, light_map
    from garden.bench.tool import work_out
    from garden.bench.tools import all_tools
    from garden.wording import Wording

    rows = []
    for code, tool in sorted(all_tools().items()):
        taken = median_ms(partial(work_out, tool, tool.example(), Wording()), repeats=5)
        rows.append(at_most(f"bench-{code}", 5.0, taken))
    lamps = [
        Lamp(x_m=0.3 + 0.4 * (i % 5), y_m=0.3 + 0.4 * (i // 5), height_m=0.4, flux_umol_s=150)
        for i in range(20)
    ]
    taken = median_ms(partial(light_map, lamps, 2.2, 2.0, wall_reflectance=0.6, nx=50, ny=50), repeats=5)
    rows.append(at_most("light-map-20-lamps-50x50", 20.0, taken))
    return rows


def document_rows() -> list[Row]:
    from tests.benchmarks.documents import document_benchmarks

    return [at_most(*row) for row in document_benchmarks()]


def main() -> None:
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consults.project.settings.test")
    django.setup()
    rows = [
        *inference_rows(), outside_row(asked="--outside" in sys.argv), *desk_rows(), *bench_rows(),
        *document_rows(),
    ]  # fmt: skip
    if "--json" in sys.argv:
        print(json.dumps([asdict(row) for row in rows]))
        return
    for row in rows:
        verdict = row.note if row.ok is None else "ok" if row.ok else "MISSED"
        print(f"{row.id:34} goal {row.goal:8g} {row.unit:5}  got {row.got:8g}  {verdict}")


if __name__ == "__main__":
    main()
