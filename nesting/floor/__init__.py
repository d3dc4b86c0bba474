"""Floor 2: lay frames, outlines, breadths and rough cuts, in whole numbers and fractions."""
