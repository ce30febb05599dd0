"""Deciding, pure and deterministic: no time, no files, no threads, no devices."""
