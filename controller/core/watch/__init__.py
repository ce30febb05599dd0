"""The slow rules: what no single reading shows. `rounds` calls them; each looks at `Seen` and has its own memory."""
