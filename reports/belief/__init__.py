"""From evidence to belief: hidden signs, shared mistakes, exact sums over both."""
