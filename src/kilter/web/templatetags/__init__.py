"""Words and drawings for templates."""
