"""The field for reports and other programs: grids, field files, maps, cuts and differences.

From Python: `grid = grid_of(result, radii_m, angles_rad, heights_m)`, then `write_grid_csv(grid, path)`.
"""
