"""Cures for a suspect: what they take, how often they help, and which of them to try first, if any."""
