"""A simulated bank, its charger, its meters and the recorded round that the demo plays."""
