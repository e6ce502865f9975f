"""The colours of the house; apart, as drawings of the former do without matplotlib.

They were chosen so that phases stay apart for the three kinds of colour blindness and in grey.
"""

INK, QUIET, FAINT, PAPER = "#1E2B2F", "#5E6B6E", "#C9CFCE", "#FFFFFF"
"""Text and outlines; secondary text; hairlines; ground."""

NORTH_FILL, SOUTH_FILL, STEEL_FILL = "#F4EFE4", "#D8D3C7", "#9AA5A8"
"""Tones of what stands behind the wires: north is the lighter one."""

PHASE_COLOURS = ("#173F5F", "#D9730D", "#2A9D8F")
"""One colour for each phase."""
