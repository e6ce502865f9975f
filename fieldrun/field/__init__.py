"""Magnets and steel become a field map."""
