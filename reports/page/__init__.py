"""The bench page: a guided job in the browser, on this machine alone."""
