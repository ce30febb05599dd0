"""The one place where TOML becomes typed, checked values: the chamber file and the profile."""
