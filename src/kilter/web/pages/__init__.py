"""The pages, one file for each thing a person comes for."""
