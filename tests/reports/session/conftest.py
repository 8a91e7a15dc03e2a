"""The fixtures of the bench, for every test below this folder."""

from bench_fixtures import call, fake, folder, job, recording

__all__ = ["call", "fake", "folder", "job", "recording"]
