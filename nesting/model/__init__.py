"""Floor 4: the engine's input and the constraint model over it."""
