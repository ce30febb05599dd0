"""The rig: the installed program in a small Debian machine (QEMU) with a real kernel, a real systemd and power cuts."""
