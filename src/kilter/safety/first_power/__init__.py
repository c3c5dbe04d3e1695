"""Before the first switch-on: rails with power off, which way round parts stand, and a ramp with a current limit."""
