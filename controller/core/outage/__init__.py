"""The time in which the program was not running: how long it can have been at most, and what it means for the meat."""
