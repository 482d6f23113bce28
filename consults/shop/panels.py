"""The panels of the start page."""

from typing import Any


def today_panels() -> dict[str, Any]:
    return {}
