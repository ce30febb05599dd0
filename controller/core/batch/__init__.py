"""The batch: its stages and states, what is counted of it, when it calls for a person."""
