"""Floor 1: frozen data in the trade's words. Lengths are whole nanometres, areas whole square nanometres."""
