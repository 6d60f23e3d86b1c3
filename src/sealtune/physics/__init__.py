"""What the air, the vent, a leak, the coil and the suspension do; knows no measurement."""
