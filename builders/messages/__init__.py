"""What the pages say, collected; the catalogue of a language, read, written and compiled."""
