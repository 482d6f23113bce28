"""Which rules of diagnosis are in force, and how the manager changes them."""
