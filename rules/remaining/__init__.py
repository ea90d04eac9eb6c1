"""How many hours the round still takes, with a band and a reason."""
