"""What a person typed or dropped, into log entries; the same for terminal and page."""
