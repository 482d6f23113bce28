"""Growers, and describing their gardens."""
