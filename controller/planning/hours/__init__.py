"""The hours of a plan: how the pH may fall, how long it may take, and the order of the day."""
