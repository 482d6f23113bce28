"""The modules that reckon with a case need neither Django nor a database."""

import subprocess
import sys
from pathlib import Path

import pytest

import consults

ROOT = Path(consults.__file__).parent.parent


@pytest.mark.parametrize(
    "module",
    [
        "checks",
        "decision",
        "drawing",
        "effort",
        "facts",
        "insight",
        "interview",
        "meters",
        "protect",
        "ranking",
    ],
)
def test_reckoning_with_a_case_needs_no_django(module):
    code = (
        f"import sys, consults.cases.{module}; "
        "sys.exit(any(name == 'django' or name.startswith('django.') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0
