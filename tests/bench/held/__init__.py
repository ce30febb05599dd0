"""What the bench of the climate is made of: chambers, runs, rivals, and what no switch could do better."""
