"""Everything that touches the world: network, disk, clock, terminal. Decides nothing about batteries."""
