"""A generator on a wind rotor: operating points, the year, runaway."""
