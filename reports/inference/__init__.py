"""The factor graph: evidence of each method, error priors, exact sums, the posterior."""
