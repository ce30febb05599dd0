"""Describing a chamber: what is asked of its maker, what his answers mean, and the text of the chamber file."""
