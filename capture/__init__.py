"""What comes from the bench: the job, the bench log, the recordings."""
