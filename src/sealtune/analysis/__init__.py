"""From a recording to an impedance curve, its landmarks and the fitted circuit."""
