"""Physics shared by the bundled checks: pure functions of floats in SI units, no model objects, no declarations."""
