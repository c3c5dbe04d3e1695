"""The programs' door: JSON under /api/, the same verbs as the pages, a key for each person, no cookies."""
