"""What the running bridge costs: throughput, order latency, the fold, replay, memory. On demand, never in CI."""
