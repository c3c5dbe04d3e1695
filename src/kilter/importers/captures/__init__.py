"""Readers of captures: one file per format, told apart by what a file holds, never by its name or maker."""
