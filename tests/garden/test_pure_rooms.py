"""The science stands on its own: it imports without the web framework."""

import subprocess
import sys


def test_agronomy_and_reference_import_without_django():
    program = (
        "import sys, pkgutil, importlib, garden.agronomy, garden.reference\n"
        "for package in (garden.agronomy, garden.reference):\n"
        "    for module in pkgutil.iter_modules(package.__path__, package.__name__ + '.'):\n"
        "        importlib.import_module(module.name)\n"
        "from garden.reference.loader import load_reference\n"
        "load_reference()\n"
        "print(sorted(name for name in sys.modules if name.split('.')[0] == 'django'))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.stderr == ""
    assert done.stdout.strip() == "[]"
