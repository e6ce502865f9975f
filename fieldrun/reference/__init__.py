"""Independent solutions that judge the finite elements; nothing here feeds an answer."""
