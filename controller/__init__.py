"""Hangroom: a daemon that runs a fermenting and drying chamber, and the tools around it."""
