"""Two-layer noisy-OR diagnosis in plain numpy: what is likely, why, and what to look at next."""

NONE_OF_THESE = "none-of-these"
"""Reserved code: no listed cause is true."""
