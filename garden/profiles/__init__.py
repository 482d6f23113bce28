"""Crop profiles of the shop's own, added by a manager in the browser."""
