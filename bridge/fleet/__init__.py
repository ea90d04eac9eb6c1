"""Many cabins: one judgement over all their banks, and what their rounds teach. Nothing here reaches a relay."""
