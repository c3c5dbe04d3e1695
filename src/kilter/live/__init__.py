"""Live instruments: SCPI over PyVISA with its pure Python backend; the package is loaded on first use."""
