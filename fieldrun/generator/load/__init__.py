"""A generator and its load: circuits, conduction, currents speed by speed."""
