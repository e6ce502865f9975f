"""fieldrun: volts, ohms and grams of a hand-wound ironless disc generator, before a metre of wire is spent."""

__version__ = "0.1.0"
