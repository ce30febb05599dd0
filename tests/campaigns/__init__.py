"""Deterministic campaigns: the production daemon under simulated time, with seeded faults at every port.

One seed is one chamber, one maker, one list of faults and one fate of the disk, bit for bit the same each time. What
must hold whatever goes wrong is judged by checkers that know the plant's truth, the relays' edges, what was put in and
what the files hold, and nothing of how the daemon decides.
"""
