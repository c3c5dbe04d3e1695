"""Signals: what was read from an object over time or over addresses, and what it tells."""
