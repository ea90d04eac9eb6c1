"""The running bridge: one loop around the rules, what it stores, publishes and answers."""
