"""How quick the documents are made: `document_benchmarks()` gives lines of the speed table.

A plan of four pages with three plots and two photos as a camera of a phone gives them after they were taken
in; what memory it takes is measured in a process of its own.
"""

import io
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

from PIL import Image

GOAL_MS, GOAL_MB, GOAL_KB = 500.0, 300.0, 400.0
_MEMORY = (
    "import sys; from tests.benchmarks.documents import most_memory_mb; print(most_memory_mb(sys.argv[1]))"
)


@cache
def camera_photo(number: int) -> bytes:
    """A picture with the grain of a real one: 2048 × 1536, about half a megabyte as JPEG."""
    import numpy as np

    random = np.random.default_rng(number)
    rows, columns = np.mgrid[0:1536, 0:2048] / 300
    waves = np.sin(rows * 3 + number) * np.cos(columns * 2) * 45
    coarse = np.kron(random.normal(0, 22, (192, 256)), np.ones((8, 8)))
    green = 120 + waves + coarse + random.normal(0, 5, rows.shape)
    pixels = np.stack([green * 0.55, green, green * 0.4], axis=-1).clip(0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=82)
    return out.getvalue()


def plan_of_four_pages() -> dict[str, Any]:
    """Three plots (two likelihoods, the readings), two photos, and enough to do for four pages."""
    from tests.reports.documents.samples import many_actions, with_photos

    made = many_actions(24)
    made["photos"] = with_photos(2)["photos"]
    return made


def _every_document() -> dict[str, Callable[[], Any]]:
    from reports.documents.card import render_card
    from reports.documents.handout import render_handout
    from reports.documents.plan import render_plan
    from reports.documents.recheck import render_recheck
    from reports.documents.summary import render_summary
    from tests.reports.documents import samples

    plan, card, handout = plan_of_four_pages(), samples.with_card(), samples.handout()
    return {
        "plan-4-pages": lambda: render_plan(plan, camera_photo),
        "mixing-card": lambda: render_card(card),
        "recheck": lambda: render_recheck(card),
        "hand-out": lambda: render_handout(handout),
        "summary-2-photos": lambda: render_summary(samples.summary(2), camera_photo),
    }


def _median_ms(work: Callable[[], object], repeats: int = 5) -> float:
    work()
    taken = []
    for _time in range(repeats):
        begun = time.perf_counter()
        work()
        taken.append((time.perf_counter() - begun) * 1000)
    return statistics.median(taken)


def most_memory_mb(folder: str) -> float:
    """The most memory this process ever held, after one plan; for a process of its own (on Linux).

    The kernel's own mark is read: what `getrusage` gives begins with the memory of who started it. The
    photos are read from a folder: drawing them takes more memory than the document.
    """
    _set_up()
    from reports.documents.plan import render_plan

    render_plan(plan_of_four_pages(), lambda number: (Path(folder) / f"{number}.jpg").read_bytes())
    status = Path("/proc/self/status").read_text()
    return int(re.findall(r"VmHWM:\s+(\d+) kB", status)[0]) / 1024


def _memory_mb() -> float:
    with tempfile.TemporaryDirectory() as folder:
        for photo in plan_of_four_pages()["photos"]:
            (Path(folder) / f"{photo['id']}.jpg").write_bytes(camera_photo(photo["id"]))
        command = [sys.executable, "-c", _MEMORY, folder]
        return float(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def _set_up() -> None:
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consults.project.settings.test")
    django.setup()


def document_benchmarks() -> list[tuple[str, float, float, str]]:
    """Lines of the table: name, goal, what was got, unit. Each goal is a most."""
    rows = []
    for name, make in _every_document().items():
        rows.append((f"document-{name}", GOAL_MS, round(_median_ms(make), 1), "ms"))
        rows.append((f"document-{name}-size", GOAL_KB, round(len(make().pdf) / 1000, 1), "kB"))
    rows.append(("document-plan-4-pages-memory", GOAL_MB, round(_memory_mb(), 1), "MB"))
    return rows


if __name__ == "__main__":
    _set_up()
    for name, goal, got, unit in document_benchmarks():
        print(f"{name:34} goal {goal:8g} {unit:5}  got {got:8g}  {'ok' if got <= goal else 'MISSED'}")
