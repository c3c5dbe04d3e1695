"""
Turns the Munsell centroids of marking colours into CIELAB and sRGB.

Run: python builders/build_band_colours.py   (needs the package colour-science, 0.4.7 was used)

Writes authorities/colours/band_colours.json.
"""

from __future__ import annotations

import json
from pathlib import Path

import colour  # type: ignore[import-not-found]

OUT = Path(__file__).resolve().parents[1] / "authorities" / "colours" / "band_colours.json"
MUNSELL = {
    "black": "N0.5", "brown": "5YR 3.5/6", "red": "2.5R 4/14", "orange": "2.5YR 6/14", "yellow": "5Y 8.5/12",
    "green": "2.5G 5/12", "blue": "2.5PB 4/10", "violet": "2.5P 4/10", "grey": "N5", "white": "N9",
}  # fmt: skip
"""Centroids of EIA-359-A, from memory."""


def main() -> None:
    """Writes the file."""
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]
    c, d65 = colour.xy_to_XYZ(white["C"]), colour.xy_to_XYZ(white["D65"])
    rows = {}
    for name, notation in MUNSELL.items():
        seen = colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(notation))
        adapted = colour.adaptation.chromatic_adaptation_VonKries(seen, c, d65, transform="Bradford")
        lab, srgb = colour.XYZ_to_Lab(adapted, white["D65"]), colour.XYZ_to_sRGB(adapted)
        rows[name] = {"munsell": notation, "lab": [round(float(one), 2) + 0.0 for one in lab],
                      "srgb": [round(float(one) * 255) for one in srgb]}  # fmt: skip
    made = f"colour-science {colour.__version__}: Munsell renotation, adapted from illuminant C to D65 (Bradford)"
    OUT.write_text(json.dumps({"made_by": made, "rows": rows}, indent=1), "utf-8")


if __name__ == "__main__":
    main()
