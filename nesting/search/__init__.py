"""Floor 4: constructive and improving search over the engine's instance, in rounds of repeatable tasks."""
