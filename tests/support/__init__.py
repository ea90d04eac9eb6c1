"""What tests stand on: brokers, a running bridge, made banks and rounds, misbehaving servers."""
