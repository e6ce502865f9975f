"""Drawings to scale: one neutral record, written as PDF, SVG and DXF."""
