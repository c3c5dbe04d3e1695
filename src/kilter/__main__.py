"""Lets `python -m kilter` do what `kilter` does."""

import sys

from kilter.cli.main import run

sys.exit(run())
