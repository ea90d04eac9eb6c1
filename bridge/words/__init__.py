"""How a bank's state is named and coloured, the same on every surface."""
