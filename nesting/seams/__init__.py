"""Floor 3: where seams may run, the layouts of a room, and the cuts that result."""
