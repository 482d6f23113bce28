"""The look afterwards: reminding, the grower's check-in, before and after, what it came to."""
