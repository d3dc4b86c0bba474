"""What an estimator does with a plan once it is there: asks why, and what else."""
