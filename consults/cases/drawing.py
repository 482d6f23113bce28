"""Case files drawn from the rules, for trying things out on many cases. Pure: no Django, no database."""

from collections.abc import Iterator

import numpy as np

from consults.cases.casefile import CaseFile
from consults.cases.ranking import assemble, can_be_there
from consults.ruleset.loader import Ruleset
from garden.reference.schema import Reference

_TRIES = 1000


def draw_cases(ruleset: Ruleset, reference: Reference, count: int, seed: int) -> Iterator[CaseFile]:
    """Yield `count` case files, the same for the same seed.

    Crop and growing system are drawn evenly, the stage is vegetative; the causes by their odds in that
    context, at least one true; the findings by noisy-OR, those the plants can have, at least one seen. All
    findings are answered. No readings and no habits: rules do not say how often those occur. What is true
    stands in `expected`. Raises `ValueError` for a count below 1.
    """
    if count < 1:
        raise ValueError(f"The number of cases is {count}; at least 1 is needed.")
    random = np.random.default_rng(seed)
    crops = sorted(code for code, crop in reference.crops.items() if not crop.is_profile)
    systems = sorted(reference.systems)
    for _ in range(count):
        planting = {
            "crop": crops[random.integers(len(crops))],
            "system": systems[random.integers(len(systems))],
            "stage": "vegetative",
        }
        yield _drawn(
            CaseFile.model_validate({"case_file": 1, "planting": planting}), ruleset, reference, random
        )


def _drawn(case: CaseFile, ruleset: Ruleset, reference: Reference, random: np.random.Generator) -> CaseFile:
    assembled = assemble(case, ruleset, reference)
    network = assembled.network
    odds = np.array([assembled.evidence.odds.get(code, 1.0) for code in network.causes])
    prior = network.prior * odds / (1 - network.prior + network.prior * odds)
    there = np.array([can_be_there(ruleset.findings[c], assembled.facts) for c in network.findings])
    for _ in range(_TRIES):
        causes = random.random(len(prior)) < prior
        chance = -np.expm1(network.log_leak_miss + causes @ network.log_miss)
        shown = (random.random(len(chance)) < chance) & there
        if causes.any() and shown.any():
            break
    codes = np.array(network.findings)
    seen = codes[shown].tolist()
    random.shuffle(seen)  # the first seen is the complaint; not always the first of the alphabet
    expected = {"causes": np.array(network.causes)[causes].tolist(), "source": "drawn from the rules"}
    return CaseFile.model_validate(
        {
            **case.model_dump(mode="json"),
            "present": seen,
            "absent": codes[there & ~shown].tolist(),
            "expected": expected,
        }
    )
