"""Causes, findings and practices as reviewed data, and what turns them into evidence."""
