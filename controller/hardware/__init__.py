"""The real world behind the ports: sensors, relays, clock, supervisor. Only `app` imports this."""
