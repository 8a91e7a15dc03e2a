"""Records that all rooms of reports share: the verdict, steps of a session, the plan."""
