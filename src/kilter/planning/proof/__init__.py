"""Proof: whether a reading, with its uncertainty, lies within limits, and at what risk one says so."""
