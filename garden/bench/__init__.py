"""The bench: the science of a consult put to work on a garden's own data."""
