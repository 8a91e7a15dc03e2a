"""The server of the page: who may come in, the open job, the recording, uploads."""
