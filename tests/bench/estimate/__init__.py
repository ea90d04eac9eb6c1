"""How good phase and remaining hours are, on simulated rounds, beside three baselines."""
