"""The log of what people ask at the counter."""
