"""What a person gets: belief, the wiring plan, the verdict and its faces."""
