"""Keeping and forgetting: what is held about a grower is handed out or erased; everything is backed up."""
