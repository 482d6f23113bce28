"""Tells whether the probabilities of the rules mean what they say, on cases drawn from these rules."""

import json
import sys
from argparse import ArgumentParser
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _

from consults.diagnosis.calibration import HIDDEN, Calibration, calibrate
from consults.management.numbers import at_least_one, whole
from consults.ruleset.compile import build_network
from consults.ruleset.loader import load_bundled
from garden.figures.reliability import ReliabilityLabels, ReliabilityPoint, reliability_plot


class Command(BaseCommand):
    help = (
        "Draws cases from the bundled rules (causes by their priors, findings by noisy-OR, half of the "
        "findings not looked at), ranks them, and prints how often what was said came true: a table, the "
        "Brier score, and with --out a plot. It judges the reckoning; whether the rules are right, only "
        "confirmed cases can tell. The same seed gives the same numbers. Needs no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--simulate", type=at_least_one, default=500, metavar="N", help="how many cases (500)"
        )
        parser.add_argument("--seed", type=whole, default=1, metavar="S", help="a whole number (1)")
        parser.add_argument("--json", action="store_true", help="as one JSON object")
        parser.add_argument("--out", type=Path, metavar="FILE.svg", help="write the plot to this file")

    def handle(self, *args: Any, **options: Any) -> None:
        ruleset = load_bundled()
        found = calibrate(build_network(ruleset), options["simulate"], options["seed"])
        if options["out"]:
            try:
                options["out"].write_text(plot(found), encoding="utf-8")
            except OSError as error:
                self.stderr.write(f"{options['out']}: {error.strerror}")
                sys.exit(2)
        if options["json"]:
            told = {"ruleset": ruleset.version, "hidden": HIDDEN, **asdict(found)}
            self.stdout.write(json.dumps(told))
        else:
            self.stdout.write(as_text(found))


def as_text(found: Calibration) -> str:
    """The reliability table and the Brier scores in words."""
    lines = ["said            cases   mean said   came true   95 % interval"]
    for part in found.bins:
        span = f"{part.low:.2f} to {part.high:.2f}"
        if part.expected is None or part.observed_low is None or part.observed_high is None:
            lines.append(f"{span:14} {part.count:6d}")
            continue
        lines.append(
            f"{span:14} {part.count:6d}   {part.expected:9.4f}   {part.observed:9.4f}   "
            f"{part.observed_low:.4f} to {part.observed_high:.4f}"
        )
    lines.append(
        f"Brier score {found.brier:.5f} over {found.cases} cases (knowing only the priors: "
        f"{found.brier_prior:.5f})"
    )
    return "\n".join(lines)


def plot(found: Calibration) -> str:
    """The reliability plot; its ids repeat, so that the same seed writes the same file."""
    points = [
        ReliabilityPoint(part.expected, part.observed, part.observed_low, part.observed_high, part.count)
        for part in found.bins
        if part.expected is not None
        and part.observed is not None
        and part.observed_low is not None
        and part.observed_high is not None
    ]
    labels = ReliabilityLabels(
        expected=_("Probability said"),
        observed=_("Share that came true"),
        perfect=_("Perfect"),
        point=_("said %(expected)s, came true %(observed)s of %(count)s"),
    )
    title = _("How often what was said came true in %(n)s drawn cases") % {"n": found.cases}
    return reliability_plot(points, title=title, labels=labels, key="reliability", font="sans-serif")
