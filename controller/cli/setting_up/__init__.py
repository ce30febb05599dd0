"""The interview at the machine: what is said, asked, watched and clicked at the terminal."""
