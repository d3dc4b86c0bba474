"""Floor 4: lower bounds that hold for every layout that the rules of the job allow, not only for those looked at."""
