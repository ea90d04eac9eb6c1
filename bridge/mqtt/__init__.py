"""The broker: sessions, the relay's guard, what may go out and why it was refused."""
