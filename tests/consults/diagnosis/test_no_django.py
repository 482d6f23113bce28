import pkgutil
import subprocess
import sys
from pathlib import Path

import consults.diagnosis
import consults.ruleset

ROOT = Path(consults.__file__).parent.parent


def test_diagnosis_and_ruleset_load_without_django():
    modules = [
        f"{package.__name__}.{module.name}"
        for package in (consults.diagnosis, consults.ruleset)
        for module in pkgutil.iter_modules(package.__path__)
    ]
    assert "consults.diagnosis.inference" in modules
    assert "consults.ruleset.compile" in modules
    script = "\n".join(
        [
            "import sys",
            *(f"import {module}" for module in modules),
            "print([m for m in sys.modules if m == 'django' or m.startswith('django.')])",
        ]
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    assert done.stdout.strip() == "[]"
