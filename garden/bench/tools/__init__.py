"""The tools of the bench, one a file: each module here with a `TOOL` is found by itself."""

import importlib
import pkgutil
from functools import cache

from garden.bench.tool import GROUPS, Tool


@cache
def all_tools() -> dict[str, Tool]:
    """Return every tool by its code, in the order of the groups and then of their files' names."""
    modules = [
        importlib.import_module(f"{__name__}.{found.name}") for found in pkgutil.iter_modules(__path__)
    ]
    tools: list[Tool] = [module.TOOL for module in modules if hasattr(module, "TOOL")]
    order = list(GROUPS)
    return {tool.code: tool for tool in sorted(tools, key=lambda tool: order.index(tool.group))}
