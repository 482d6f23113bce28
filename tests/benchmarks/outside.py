"""The engine against a general library for Bayesian networks, pgmpy, on a network that the library can do.

The library is no part of the project. When asked, it is installed apart, into a folder that is thrown away,
and is given the same network and the same findings, seen and not seen, as plain evidence. Both give the
probability of every cause; the answers must agree before times are compared.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from consults.diagnosis.network import Evidence, Network

LIBRARY = "pgmpy-no-torch==1.0.4"  # the same package without the deep learning it would otherwise bring
NEEDS = ("networkx", "numpy", "scipy", "pandas", "opt_einsum", "tqdm", "joblib", "pyparsing",
         "scikit-learn", "statsmodels")  # fmt: skip
LONGEST_S = 600  # for installing, and for one run

RUN = """
import itertools, json, sys, time
import numpy as np
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

given = json.load(sys.stdin)
strength = np.array(given["strength"])
model = DiscreteBayesianNetwork()
model.add_nodes_from([*given["causes"], *given["findings"]])
tables = [TabularCPD(code, 2, [[1 - p], [p]]) for code, p in zip(given["causes"], given["prior"])]
for at, code in enumerate(given["findings"]):
    parents = [int(c) for c in np.flatnonzero(strength[:, at])]
    model.add_edges_from([(given["causes"][c], code) for c in parents])
    sets = np.array(list(itertools.product([0, 1], repeat=len(parents)))).reshape(2 ** len(parents), -1)
    missed = (1 - given["leak"][at]) * np.where(sets, 1 - strength[parents, at], 1.0).prod(axis=1)
    tables.append(TabularCPD(code, 2, [missed, 1 - missed], [given["causes"][c] for c in parents],
                             [2] * len(parents)))
model.add_cpds(*tables)
evidence = {**dict.fromkeys(given["present"], 1), **dict.fromkeys(given["absent"], 0)}
engine = VariableElimination(model)
begun = time.process_time()
found = [float(engine.query([code], evidence, show_progress=False).values[1]) for code in given["causes"]]
print(json.dumps({"ms": (time.process_time() - begun) * 1000, "marginals": found}))
"""


def run_outside(network: Network, evidence: Evidence) -> dict[str, Any] | str:
    """Return the library's marginals and its time in ms, or a sentence saying why there are none."""
    with tempfile.TemporaryDirectory() as folder:
        python = Path(folder) / "bin" / "python"
        try:
            _do([sys.executable, "-m", "venv", folder])
            _do([str(python), "-m", "pip", "install", "-q", "--no-deps", LIBRARY])
            _do([str(python), "-m", "pip", "install", "-q", *NEEDS])
        except (OSError, subprocess.SubprocessError):
            return "not installed: no network, or the package is not to be had"
        try:
            return dict(json.loads(_do([str(python), "-c", RUN], _as_json(network, evidence))))
        except (subprocess.SubprocessError, ValueError):
            return f"did not finish in {LONGEST_S} s, or failed"


def _do(command: list[str], given: str = "") -> str:
    done = subprocess.run(command, input=given, capture_output=True, text=True, check=True, timeout=LONGEST_S)
    return done.stdout


def _as_json(network: Network, evidence: Evidence) -> str:
    return json.dumps(
        {
            "causes": network.causes,
            "findings": network.findings,
            "prior": network.prior.tolist(),
            "leak": network.leak.tolist(),
            "strength": network.strength.tolist(),
            "present": sorted(evidence.present),
            "absent": sorted(evidence.absent),
        }
    )
