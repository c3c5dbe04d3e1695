"""Soak: hours under power after a repair; what to log, when to stop, and what hours without failure prove."""
