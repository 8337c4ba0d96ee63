"""Benchmarks and long runs: `python3 tests bench`."""
