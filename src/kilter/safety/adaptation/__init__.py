"""Adaptations: how an old object meets today's displays, amplifiers and supplies, changed as little as can be."""
