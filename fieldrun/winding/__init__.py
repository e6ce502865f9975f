"""A winding's shape becomes conductors."""
