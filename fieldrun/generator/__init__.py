"""Field and winding meet: EMF, impedance, and the chain from design to result."""
