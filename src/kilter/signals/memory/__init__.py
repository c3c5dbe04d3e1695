"""Memory contents: dumps against a known-good image, march tests and their fail lists."""
