"""Which quick estimate holds where: formulas held against finite elements over a grid of dimensionless machines."""
