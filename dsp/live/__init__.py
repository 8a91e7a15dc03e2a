"""Listening block by block: waiting for a gesture, onsets of a recording too long to hold."""
